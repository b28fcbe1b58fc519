"""Weights on pages: typed once, then said on cards, checks and paper with the guide value and its source."""

from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.kits import coding
from kitshare.kits.code_models import Code
from kitshare.kits.models import Part
from kitshare.rules.lifting import Load
from kitshare.web.lifting import weight_in_words
from tests.web.page import Page


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def typed(client, mill, **changes) -> dict[str, str]:
    """The form of the mill's weights as its page shows it, with some of it typed anew."""
    page = Page(client.get(reverse("kits:machine_weights", args=[mill.pk])).content.decode())
    assert page.wrong == []
    return page.fields | changes


def test_weights_typed_once_stand_on_card_part_machine_check_and_paper(
    signed_in, teodor, perpetua, agreed_booking, mill, drive_pin, cloths, now
):
    coding.make_codes(by=teodor, at=now)
    tin = Code.objects.boxes_of([mill]).get(box=drive_pin.packed_in)
    client, place = signed_in(teodor), reverse("kits:machine_weights", args=[mill.pk])
    said = {"weight_kg": "31", f"part-{drive_pin.pk}": "0,2", f"box-{tin.pk}": "26"}

    answer = client.post(place, typed(client, mill, **said))

    assert answer.url == reverse("kits:machine", args=[mill.pk])
    machine, part = text_of(client.get(answer.url)), text_of(client.get(reverse("kits:part", args=[drive_pin.pk])))
    over = "Over the guide value for one person (25 kg men, 16 kg women) and for two women (21 kg)"
    assert '31 kg</strong> <span class="word weight-word word-care">two together, or more</span>' in machine
    assert over in machine
    assert "Quoted from the lifting filter of the British Health and Safety Executive" in machine
    assert "0.2 kg</strong><br><span" in part
    client.logout()
    card = text_of(client.get(reverse("codes:card", args=[tin.text])))
    assert "26.2 kg</strong>" in card
    assert "Local rules come first" in card
    client = signed_in(perpetua)
    for name in ("pickup", "print"):
        page = text_of(client.get(reverse(f"checks:{name}", args=[agreed_booking.pk])))
        assert "26.2 kg: " in page
        assert "two together, or more" in page
        assert "0.2 kg</span>" in page
        assert "Guide values, no limits" in page


@pytest.mark.parametrize("kg", ["-1", "2000.5", "0.25", "1,200", "heavy", "1" * 40, "NaN"])
def test_what_is_no_weight_is_said_beside_its_field_and_stays_typed(kg, signed_in, teodor, mill, drive_pin):
    client, field = signed_in(teodor), f"part-{drive_pin.pk}"

    answer = client.post(reverse("kits:machine_weights", args=[mill.pk]), typed(client, mill, **{field: kg}))

    assert answer.status_code == 422
    assert f'value="{kg}"' in answer.content.decode()
    assert f"id_{field}_error" in answer.content.decode()
    assert Part.objects.get(pk=drive_pin.pk).weight_kg is None


def test_two_tabs_do_not_weigh_over_each_other(signed_in, teodor, mill, drive_pin):
    client, place = signed_in(teodor), reverse("kits:machine_weights", args=[mill.pk])
    first, second = typed(client, mill, weight_kg="40"), typed(client, mill, weight_kg="41")

    client.post(place, first)
    answer = client.post(place, second)

    assert answer.status_code == 422
    assert "Heron mill 40 kg" in answer.content.decode()


def test_a_borrower_writes_no_weights_down(signed_in, sunniva, mill):
    assert signed_in(sunniva).get(reverse("kits:machine_weights", args=[mill.pk])).status_code == 403


@pytest.mark.parametrize(
    ("kg", "advice", "guide"),
    [
        ("16", "", "within the guide value for one person"),
        ("16.1", "two together", "over the guide value for a woman alone (16 kg), within that for a man (25 kg)"),
        ("25", "two together, or more", "over the guide value for a woman alone (16 kg) and for two (21 kg)"),
        ("25.1", "two together, or more", "over the guide value for one person (25 kg men, 16 kg women)"),
        ("33", "two together, or more", "within that for two men (33 kg)"),
        ("33.1", "more people, a trolley or a hoist", "over the guide value for two people too"),
    ],
)
def test_each_side_of_each_guide_value_has_its_words(kg, advice, guide):
    """The HSE filter, quoted, elbow to knuckle height: 25 and 16 kg; two thirds of the sum for two: 33 and 21."""
    found = weight_in_words(Load(kg=Decimal(kg), is_all=True))

    assert found.advice == advice
    assert guide in found.guide
    assert "safe" not in found.guide


@pytest.mark.parametrize(("kg", "over"), [("10", False), ("16.1", True), ("25.1", True), ("40", True)])
def test_of_what_was_weighed_in_part_nothing_is_said_to_be_within(kg, over):
    found = weight_in_words(Load(kg=Decimal(kg), is_all=False))

    assert found.kg == f"at least {kg} kg"
    assert "within" not in found.guide
    assert found.is_over is over
