"""Leads: their resistance and the voltage lost in them, against quoted tables and worked figures."""

from decimal import Decimal

import pytest

from kitshare.rules.leads import MILLIVOLTS_PER_AMP_METRE, OHM_PER_KM, CrossSectionUnknown, Lead
from kitshare.rules.sizing_terms import OutOfRange


def lead(length_m, mm2):
    return Lead(length_m=Decimal(length_m), mm2=Decimal(mm2))


@pytest.mark.parametrize(
    ("mm2", "ohm"), [("0.75", "26.0"), ("1", "19.5"), ("1.5", "13.3"), ("2.5", "7.98"), ("4", "4.95")]
)
def test_a_hundred_metres_have_a_tenth_of_what_a_kilometre_has(mm2, ohm):
    """IEC 60228, class 5, at 20 C, quoted."""
    assert lead(100, mm2).ohm * 10 == Decimal(ohm)


def test_a_mill_of_2200_watts_loses_seven_and_a_half_volts_on_25_metres_of_thin_lead():
    """BS 7671, table 4F3B, quoted: 32 mV/A/m at 1.5 mm2. Worked by hand: 2200 / 230 * 25 * 0.032 = 7.65 V, 3.33 %."""
    lost = lead(25, "1.5").volts_lost(Decimal(2200) / 230)

    assert round(lost, 2) == Decimal("7.65")
    assert round(lost / 230 * 100, 2) == Decimal("3.33")


def test_thirteen_amperes_lose_more_than_five_in_the_hundred_on_25_metres_of_thinner_lead():
    """The same table: 37 mV/A/m at 1.25 mm2. Worked by hand: 13 * 25 * 0.037 = 12.0 V, 5.23 %."""
    lost = lead(25, "1.25").volts_lost(Decimal(13))

    assert round(lost / 230 * 100, 2) == Decimal("5.23")


@pytest.mark.parametrize("mm2", sorted(set(OHM_PER_KM) - {Decimal("1.25")}))
def test_the_two_tables_agree_within_a_quarter(mm2):
    """A warm pair of conductors has about 2.4 times a cold single one: 2 for the pair, 1.2 for copper at 70 C."""
    assert Decimal("0.75") < MILLIVOLTS_PER_AMP_METRE[mm2] / (2 * OHM_PER_KM[mm2] * Decimal("1.2")) < Decimal("1.25")


@pytest.mark.parametrize("length", ["-0.1", "200.1", "NaN", "Infinity"])
def test_a_length_that_no_lead_has_is_refused(length):
    with pytest.raises(OutOfRange):
        lead(length, "1.5")


def test_a_cross_section_that_no_table_has_is_refused():
    with pytest.raises(CrossSectionUnknown):
        lead(10, "3")


@pytest.mark.parametrize("amps", ["-1", "10001", "NaN"])
def test_a_current_that_no_lead_carries_is_refused(amps):
    with pytest.raises(OutOfRange):
        lead(10, "1.5").volts_lost(Decimal(amps))
