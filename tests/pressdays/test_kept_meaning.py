"""Plans and kinds saved before there were uses mean afterwards what they meant."""

from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps

from kitshare.pressdays.models import ContainerKind, PressPlan

pytestmark = pytest.mark.django_db
keep_meaning = import_module("kitshare.pressdays.migrations.0005_kept_meaning").keep_meaning


@pytest.mark.parametrize(
    ("name", "fill", "reused", "kept"),
    [
        ("Flaschen", "0.96", True, ("glass", "heated", None)),
        ("1 L glass jar", "0.96", False, ("glass", "heated", None)),
        ("5 L bag-in-box", "1", False, ("film", "fresh", Decimal(1))),
        ("Bucket", "0.90", False, ("", "fresh", Decimal("0.90"))),
        ("Vat", "0.85", False, ("", "to_ferment", Decimal("0.85"))),
    ],
)
def test_a_kind_keeps_its_fill_and_gets_the_use_that_this_fill_was_for(name, fill, reused, kept):
    facts = {"fill_fraction": Decimal(fill), "reused_glass": reused}
    before = ContainerKind.objects.create(name=name, litres=Decimal(5), **facts)

    keep_meaning(apps, None)

    kind = ContainerKind.objects.get()
    assert (kind.material, kind.usual_use, kind.fill_fraction) == kept
    assert kind.as_rule.fill_litres(kind.usual_use) == before.litres * before.fill_fraction


def test_a_plans_shares_become_what_their_kinds_usually_hold(save, bottle, box):
    plan = save({bottle: 60, box: 40}, "0.6")
    plan.shares.update(use="frozen")

    keep_meaning(apps, None)

    assert [(share.use, share.percent) for share in plan.shares.order_by("pk")] == [("heated", 60), ("fresh", 40)]
    assert PressPlan.objects.get().yield_expected == Decimal("0.6")


def test_the_yield_that_the_page_began_with_was_nobodys_own(save, bottle):
    save({bottle: 100}, "0.55")

    keep_meaning(apps, None)

    assert PressPlan.objects.get().yield_expected is None
