"""Amounts on pages: in the scheme's own units, grouped, and never broken across lines.

The factors themselves are checked in tests/rules/test_units.py; here 100 kg is 220.46 lb and 100 L is 21.997 imperial
or 26.417 US gallons (NIST Special Publication 811, appendix B.8, from memory).
"""

from decimal import Decimal

import pytest
from django.template import Context, Template

from kitshare.people.models import Scheme


def written(tag, units="metric", **values):
    return Template(tag).render(Context({"scheme": Scheme(units=units), **values})).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("units", "weight", "volume"),
    [
        ("metric", "100 kg", "100 litres"),
        ("imperial", "220 lb", "22 gallons"),
        ("us", "220 lb", "26.4 US gallons"),
    ],
)
def test_an_amount_is_written_in_the_units_of_the_scheme(units, weight, volume):
    assert written("{% weight kg %}", units, kg=Decimal("100.0")) == weight
    assert written("{% volume litres %}", units, litres=Decimal(100)) == volume


def test_a_large_amount_is_grouped_and_a_float_is_welcome():
    assert written("{% volume litres %}", litres=1875.4) == "1,875 litres"


def test_one_litre_is_one():
    assert written("{% volume 1 %}") == "1 litre"


def test_the_space_before_the_unit_does_not_break():
    assert "\N{NO-BREAK SPACE}" in Template("{% weight 5 %}").render(Context())


def test_no_amount_is_written_as_nothing():
    assert written("{% weight kg %}{% volume litres %}", kg=None, litres=None) == ""
