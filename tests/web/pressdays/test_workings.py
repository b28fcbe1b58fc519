"""Every number that a plan shows is traced: its formula gives it, and it says where it comes from."""

import math
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.kits.models import Machine
from kitshare.people.models import Scheme
from kitshare.pressdays.planning import ahead_of
from kitshare.pressdays.provisions import heating_kwh, provisions_for
from kitshare.pressdays.wanted import Part, Wanted
from kitshare.rules.containers import Use
from kitshare.web.pressdays.workings import known_numbers, steps_of
from tests.web.pressdays.test_plan import words

pytestmark = pytest.mark.django_db


def number(text):
    return float(re.match(r"[\d,.]+", text)[0].replace(",", ""))


def worked(formula):
    """A formula worked out by its figures and signs alone."""
    sums = re.sub(r"(?<=\d),(?=\d{3})", "", formula.removesuffix(", rounded up"))
    sums = sums.replace("×", "*").replace("÷", "/").replace("−", "-")
    assert re.fullmatch(r"[\d.+*/() -]+", sums), formula
    found = eval(sums)  # noqa: S307 - figures and signs alone, as was just seen
    return math.ceil(found - 1e-6) if formula.endswith("rounded up") else found


@pytest.fixture
def planned(booking, scheme, bottle, add_kind, mill, press, pasteuriser):
    """A day with every sort of use and provision, and machines with figures and without."""
    tub = add_kind("1 L tub", "1", material="pp", fill_fraction=None)
    can = add_kind("10 L can", "10", material="hdpe", fill_fraction=None, tare_kg=Decimal("0.6"))
    scheme.sanitiser, scheme.sanitiser_percent, scheme.kwh_price = "chlorine", Decimal("5.25"), Decimal("0.32")
    Machine.objects.filter(pk=pasteuriser.pk).update(power_watts=3000, bath_litres=40)
    parts = ((Use.HEATED, bottle, 60), (Use.FROZEN, tub, 10), (Use.TO_FERMENT, can, 30))
    wanted = Wanted(
        parts=tuple(Part(use=use, kind=kind, percent=percent) for use, kind, percent in parts),
        at_hand={bottle: 50},
        sorted_out_percent=5,
    )
    ahead = ahead_of(booking, scheme=scheme, wanted=wanted)
    machines = list(Machine.objects.filter(pk__in=[mill.pk, press.pk, pasteuriser.pk]).order_by("pk"))
    return ahead, provisions_for(ahead, machines=machines, scheme=scheme), scheme


def test_each_formula_gives_the_number_beside_it(planned):
    steps = steps_of(*planned)

    assert len(steps) > 30
    for step in steps:
        assert worked(step.formula) == pytest.approx(number(step.amount), rel=2e-3, abs=2e-3), step


def test_each_number_says_where_it_comes_from(planned):
    assert all(known.source and known.amount for known in known_numbers(*planned))
    assert all(step.source for step in steps_of(*planned))


def test_the_headspace_is_that_of_the_water_tables(planned):
    grown = {step.title: step for step in steps_of(*planned) if "how full it then is" in step.title}

    # IAPWS-IF97 by the iapws package gives water 2.55 % from 10 to 75 C; juice of 12 Bx about 2.45 %, glass takes back
    # 0.18 %: 0.96 x 1.0245 / 1.0018. Frozen: 9 % for water, a little less with sugar.
    assert number(grown["0.75 L glass bottle, how full it then is: heated"].amount) == pytest.approx(0.982, abs=0.001)
    assert 0.96 < number(grown["1 L tub, how full it then is: frozen"].amount) < 0.98


def test_ascorbic_acid_and_pomace_are_the_published_ones(planned):
    ahead, found, _scheme = planned
    expected = Decimal(str(round(ahead.juice.expected, 6)))

    # A. Lea: 500 mg in a litre; a level teaspoon is about 3 g (National Center for Home Food Preservation). Mass
    # balance with juice of 1.0465 kg/L (sucrose table of the US National Bureau of Standards).
    assert found.ascorbic.grams == expected * Decimal("0.5")
    assert found.ascorbic.teaspoons == math.ceil(found.ascorbic.grams / 3)
    assert found.pomace.kg == 380 - expected * Decimal("1.0465")
    assert found.pomace_least.kg < found.pomace.kg < found.pomace_most.kg
    assert found.pomace_most.sacks == math.ceil(found.pomace_most.kg / 15)


def test_the_heat_of_a_boiler_is_what_a_maker_of_juice_saw():
    # 100 litres and 2.5 kW, to 80 to 83 C in about four hours: 10 kWh. From 10 C here, and of water alone.
    assert float(heating_kwh(Decimal(0), Decimal(100), target_c=81.5)) == pytest.approx(10.0, rel=0.1)


def test_a_machine_that_says_nothing_is_reckoned_as_usual_and_the_plan_says_so(planned):
    _ahead, found, _scheme = planned

    draws = {draw.machine.kind: draw for draw in found.draws}
    assert (draws["mill"].kw, draws["mill"].usual) == (Decimal("2.2"), True)
    assert (draws["pasteuriser"].kw, draws["pasteuriser"].usual) == (3, False)
    assert found.water.bath == 40
    assert found.cost == found.electricity.kwh * Decimal("0.32")


def test_the_most_fruit_there_is_and_the_least_are_planned_too(booking, bottle):
    for kg in ("20000", "0.1"):
        booking.fruit_kg = Decimal(kg)
        part = Part(use=Use.HEATED, kind=bottle, percent=100)
        wanted = Wanted(parts=(part,), at_hand={}, yield_expected=Decimal("0.85"))
        ahead = ahead_of(booking, scheme=Scheme(), wanted=wanted)

        found = provisions_for(ahead, machines=[], scheme=Scheme())

        assert found.pomace_least.kg >= 0


def test_the_page_shows_each_step_with_its_formula(signed_in, sunniva, booking, bottle):
    seen = words(signed_in(sunniva).get(reverse("pressdays:plan", args=[booking.pk])))

    assert "juice, high 280 L= 400 × 0.7 (by definition)" in seen
    assert "held by those filled: heated" in seen
    assert "the least number to borrow or buy that holds the juice at the most, by an exact search" in seen
    assert "0.50 L/kg: community apple pressing guide, The Orchard Project (read)." in seen
