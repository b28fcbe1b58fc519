"""Every bound of what a supply and its readings may be told, at its two ends, and the words for what lies beyond."""

from dataclasses import replace
from decimal import Decimal

import pytest

from kitshare.rules.electrics import RuleSet
from kitshare.rules.instruments import LONGEST_TEXT, MEASURED, Kind, Problem, ReadingRefused, figure
from kitshare.rules.leads import CrossSectionUnknown, Lead
from kitshare.rules.sizing_terms import OutOfRange
from kitshare.rules.supply import Caveat, Drum, LeadInLine, Line, Load, Socket, Warn, supply

LEAD = Lead(length_m=Decimal(10), mm2=Decimal("2.5"))
SOCKET = Socket(amps=Decimal(16), protection_amps=Decimal(16))
HAIR = Decimal("0.000001")

BOUNDS = [
    ("amps", lambda value: Load(name="mill", amps=value), "0", "1000"),
    ("watts", lambda value: Load(name="mill", watts=value), "0", "100000"),
    ("amps_unwound", lambda value: Drum(is_wound=True, amps_unwound=value), "0.1", "125"),
    ("amps_wound", lambda value: Drum(is_wound=True, amps_wound=value), "0.1", "125"),
    ("amps", lambda value: replace(SOCKET, amps=value), "1", "125"),
    ("protection_amps", lambda value: replace(SOCKET, protection_amps=value), "1", "125"),
    ("volts", lambda value: replace(SOCKET, volts=value), "100", "250"),
    ("length_m", lambda value: replace(LEAD, length_m=value), "0", "200"),
    ("amps", LEAD.volts_lost, "0", "10000"),
]


@pytest.mark.parametrize(("field", "call", "low", "high"), BOUNDS)
def test_a_bound_is_taken_and_what_lies_beyond_is_refused_by_its_name(field, call, low, high):
    low, high = Decimal(low), Decimal(high)

    for value in (low, high):
        call(value)
    for value in (low - HAIR, high + HAIR, Decimal("NaN"), Decimal("Infinity")):
        with pytest.raises(OutOfRange) as refused:
            call(value)
        assert (refused.value.field, refused.value.least, refused.value.most) == (field, low, high)
        assert str(refused.value.value) == str(value)


def test_a_lead_that_no_table_has_is_refused_with_its_cross_section():
    with pytest.raises(CrossSectionUnknown, match=r"^no figures for a lead of 3 mm2$") as refused:
        replace(LEAD, mm2=Decimal(3))

    assert refused.value.mm2 == 3


@pytest.mark.parametrize("kind", MEASURED)
def test_a_reading_is_believed_from_the_least_to_the_most_that_an_instrument_shows(kind):
    measure = MEASURED[kind]

    for value in (measure.least, measure.most):
        assert figure(str(value), kind).value == value
    for value in (measure.most + Decimal("0.1"), *([measure.least - Decimal("0.01")] if measure.least else [])):
        with pytest.raises(ReadingRefused) as refused:
            figure(f"{value} {measure.unit}", kind)
        told = refused.value
        assert (told.problem, told.kind, told.value, told.unit) == (Problem.OUT_OF_RANGE, kind, value, "")


@pytest.mark.parametrize(
    ("text", "problem", "unit"),
    [
        ("nothing", Problem.NO_FIGURE, ""),
        ("1,234", Problem.UNCLEAR_COMMA, ""),
        ("5 mA", Problem.WRONG_UNIT, "mA"),
        ("1" + " " * LONGEST_TEXT, Problem.NO_FIGURE, ""),
    ],
)
def test_what_cannot_be_a_reading_is_refused_with_what_it_was_for(text, problem, unit):
    with pytest.raises(ReadingRefused) as refused:
        figure(text, Kind.EARTH)

    told = refused.value
    assert (told.problem, told.kind, told.unit, told.value, told.limit) == (problem, Kind.EARTH, unit, None, None)


def test_a_text_as_long_as_may_be_is_read():
    assert figure("1".ljust(LONGEST_TEXT), Kind.EARTH).value == 1


def line(amps, *leads, trip_ma=30, **facts):
    return Line(
        socket=Socket(amps=Decimal(13), protection_amps=Decimal(10), trip_ma=trip_ma),
        loads=(Load(name="mill", amps=Decimal(amps)),),
        leads=leads,
        **facts,
    )


@pytest.mark.parametrize(
    ("amps", "wound", "told"),
    [
        ("4", False, []),
        ("4", True, [(Warn.DRUM_WOUND, "drum", 4, 5)]),
        ("5.5", True, [(Warn.OVER_DRUM_WOUND, "drum", Decimal("5.5"), 5)]),
        ("9.5", False, [(Warn.OVER_DRUM_UNWOUND, "drum", Decimal("9.5"), 9)]),
        ("9.5", True, [(Warn.OVER_DRUM_UNWOUND, "drum", Decimal("9.5"), 9), (Warn.DRUM_WOUND, "drum", None, None)]),
    ],
)
def test_a_drum_is_warned_of_by_its_name_with_both_figures(amps, wound, told):
    drum = Drum(is_wound=wound, amps_unwound=Decimal(9), amps_wound=Decimal(5))
    others = [LeadInLine(name="first", lead=LEAD), LeadInLine(name="drum", lead=LEAD, drum=drum)]

    found = supply(line(amps, *others, hoses=False))

    assert found.warnings == tuple(Caveat(code=c, about=a, found=f, limit=m) for c, a, f, m in told)


def test_every_other_warning_has_what_it_is_about_and_its_figures():
    first, second = (LeadInLine(name=name, lead=LEAD, ip_second=ip) for name, ip in (("first", 4), ("second", None)))
    proof = LeadInLine(name="proof", lead=LEAD, ip_second=5)

    found = supply(line("14", first, proof, second, trip_ma=100))

    assert found.warnings == (
        Caveat(code=Warn.OVER_SOCKET, found=Decimal(14), limit=Decimal(13)),
        Caveat(code=Warn.OVER_PROTECTION, found=Decimal(14), limit=Decimal(10)),
        Caveat(code=Warn.TRIP_SWITCH_COARSE, found=Decimal(100), limit=Decimal(30)),
        Caveat(code=Warn.NOT_PROOF_AGAINST_JETS, about="first"),
        Caveat(code=Warn.NOT_PROOF_AGAINST_JETS, about="second"),
    )


def test_leads_too_long_without_a_trip_switch_are_added_up():
    leads = [
        LeadInLine(name=name, lead=replace(LEAD, length_m=Decimal(13)), ip_second=5) for name in ("first", "second")
    ]

    found = supply(line("4", *leads, trip_ma=None, rules=RuleSet.UNITED_KINGDOM))

    assert found.warnings == (
        Caveat(code=Warn.NO_TRIP_SWITCH),
        Caveat(code=Warn.LONG_WITHOUT_TRIP_SWITCH, found=Decimal(26), limit=Decimal(25)),
    )


def test_a_machine_of_which_nobody_knows_the_power_adds_nothing_and_is_named():
    found = supply(replace(line("4"), loads=(Load(name="mill"),)))

    assert (found.amps, found.volts_lost) == (0, 0)
    assert Caveat(code=Warn.POWER_UNKNOWN, about="mill") in found.warnings
