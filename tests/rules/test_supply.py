"""Supply for the day: currents at, just under and just over what a socket, its fuse, a drum and a lead carry."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.electrics import RuleSet
from kitshare.rules.leads import Lead
from kitshare.rules.sizing_terms import OutOfRange
from kitshare.rules.supply import Drum, LeadInLine, Line, Load, Socket, Warn, supply

UK = RuleSet.UNITED_KINGDOM


def amps(value, name="mill"):
    return Load(name=name, amps=Decimal(value))


def watts(value, name="mill"):
    return Load(name=name, watts=Decimal(value))


def lead(length_m="10", mm2="2.5", drum=None, ip_second=5, name="yellow lead"):
    return LeadInLine(
        name=name, lead=Lead(length_m=Decimal(length_m), mm2=Decimal(mm2)), drum=drum, ip_second=ip_second
    )


def line(*loads, leads=(), trip_ma=30, socket_amps="16", protection_amps="16", **facts):
    socket = Socket(amps=Decimal(socket_amps), protection_amps=Decimal(protection_amps), trip_ma=trip_ma)
    return Line(socket=socket, loads=loads, leads=tuple(leads), **facts)


def said(found):
    return [caveat.code for caveat in found.warnings]


def test_running_currents_are_added_up():
    found = supply(line(watts(2200), watts(2500, "pasteuriser"), amps("1.5", "pump")))

    assert round(found.amps, 2) == Decimal("21.93")  # by hand: 4700 / 230 + 1.5
    assert said(found)[:2] == [Warn.RECKONED_FROM_WATTS] * 2
    assert Warn.OVER_SOCKET in said(found)


@pytest.mark.parametrize(("value", "over"), [("12.99", False), ("13", False), ("13.01", True)])
def test_a_socket_is_warned_of_from_just_over_what_it_carries(value, over):
    found = supply(line(amps(value), socket_amps="13"))

    assert (Warn.OVER_SOCKET in said(found)) is over
    assert Warn.OVER_PROTECTION not in said(found)


@pytest.mark.parametrize(("value", "over"), [("10", False), ("10.01", True)])
def test_a_protective_device_smaller_than_the_socket_is_warned_of(value, over):
    found = supply(line(amps(value), protection_amps="10"))

    assert said(found) == ([Warn.OVER_PROTECTION] if over else [])


@pytest.mark.parametrize(
    ("value", "is_wound", "expected"),
    [
        ("5", True, [Warn.DRUM_WOUND]),
        ("5.01", True, [Warn.OVER_DRUM_WOUND]),
        ("13", True, [Warn.OVER_DRUM_WOUND]),
        ("13", False, []),
        ("13.01", True, [Warn.OVER_DRUM_UNWOUND, Warn.DRUM_WOUND]),
        ("13.01", False, [Warn.OVER_DRUM_UNWOUND]),
    ],
)
def test_a_drum_carries_less_while_it_is_wound(value, is_wound, expected):
    """Typical figures, 13 A unwound and 5 A wound (from memory): a drum's own label comes first."""
    found = supply(line(amps(value), leads=[lead("25", drum=Drum(is_wound=is_wound))]))

    assert said(found) == expected


def test_the_voltage_lost_is_that_of_the_worked_example():
    """By hand from BS 7671, table 4F3B, quoted: 2200 W at 230 V over 25 m of 1.5 mm2 lose 7.65 V, 3.33 %."""
    found = supply(line(watts(2200), leads=[lead("25", "1.5")]))

    assert (round(found.volts_lost, 2), round(found.percent_lost, 2)) == (Decimal("7.65"), Decimal("3.33"))
    assert Warn.VOLTS_LOST not in said(found)


def test_leads_in_line_lose_together_and_over_five_in_the_hundred_is_said():
    """13 A over 25 m of 1.25 mm2 lose 12.0 V, 5.23 % (the same table, by hand)."""
    one = supply(line(amps(13), leads=[lead("12.5", "1.25")]))
    two = supply(line(amps(13), leads=[lead("12.5", "1.25"), lead("12.5", "1.25")]))

    assert Warn.VOLTS_LOST not in said(one)
    [caveat] = two.warnings
    assert (caveat.code, round(caveat.found, 2), caveat.limit) == (Warn.VOLTS_LOST, Decimal("5.23"), 5)


def test_five_in_the_hundred_exactly_is_not_said():
    found = supply(line(amps(10), leads=[lead("25", "1.0")]))

    assert found.percent_lost == 5
    assert said(found) == []


@pytest.mark.parametrize(("trip_ma", "expected"), [(10, []), (30, []), (100, [Warn.TRIP_SWITCH_COARSE])])
def test_a_trip_switch_above_thirty_milliamperes_is_too_coarse(trip_ma, expected):
    assert said(supply(line(amps(5), trip_ma=trip_ma))) == expected


@pytest.mark.parametrize(
    ("length_m", "mm2", "long"),
    [("12", "1.25", False), ("12.1", "1.25", True), ("15", "1.5", False), ("15.1", "1.5", True), ("25.1", "2.5", True)],
)
def test_a_long_lead_without_a_trip_switch_is_said_by_the_rules_that_limit_it(length_m, mm2, long):
    """IET code of practice, quoted: 12, 15 and 25 m at 1.25, 1.5 and 2.5 mm2."""
    british = supply(line(amps(2), leads=[lead(length_m, mm2)], trip_ma=None, rules=UK))
    other = supply(line(amps(2), leads=[lead(length_m, mm2)], trip_ma=None, rules=RuleSet.GERMANY))

    assert said(british) == [Warn.NO_TRIP_SWITCH] + [Warn.LONG_WITHOUT_TRIP_SWITCH] * long
    assert said(other) == [Warn.NO_TRIP_SWITCH]


@pytest.mark.parametrize(("ip_second", "warned"), [(None, True), (4, True), (5, False), (6, False), (7, True)])
def test_near_hoses_only_what_is_proof_against_jets_is_passed_over(ip_second, warned):
    """IEC 60529, quoted: 5 and 6 are jets; 7 is dipping, which does not cover them."""
    near, dry = (supply(line(amps(2), leads=[lead(ip_second=ip_second)], hoses=hoses)) for hoses in (True, False))

    assert said(near) == ([Warn.NOT_PROOF_AGAINST_JETS] if warned else [])
    assert said(dry) == []


def test_a_machine_of_unknown_power_is_named():
    [caveat] = supply(line(Load(name="Old mill"))).warnings

    assert (caveat.code, caveat.about) == (Warn.POWER_UNKNOWN, "Old mill")


@pytest.mark.parametrize(
    "make",
    [
        lambda: amps("-1"),
        lambda: amps("NaN"),
        lambda: watts("100001"),
        lambda: Drum(is_wound=True, amps_wound=Decimal(0)),
        lambda: Socket(amps=Decimal(0), protection_amps=Decimal(16)),
        lambda: Socket(amps=Decimal(16), protection_amps=Decimal(126)),
        lambda: Socket(amps=Decimal(16), protection_amps=Decimal(16), volts=Decimal(400)),
    ],
)
def test_what_no_plate_label_or_house_says_is_refused(make):
    with pytest.raises(OutOfRange):
        make()


@given(first=st.decimals(0, 60, places=2), more=st.decimals(0, 60, places=2), metres=st.integers(0, 100))
@settings(max_examples=60)
def test_one_machine_more_never_takes_a_warning_away(first, more, metres):
    drum = Drum(is_wound=False)
    few = supply(line(amps(first), leads=[lead(metres, drum=drum)]))
    many = supply(line(amps(first), amps(more), leads=[lead(metres, drum=drum)]))

    assert set(said(few)) <= set(said(many))
    assert many.volts_lost >= few.volts_lost
