"""Readings of a safety test: each limit met, just missed and just kept, by the rules of one country at a time.

The limits are those that texts quote from the IET code of practice for in-service inspection and testing, DIN VDE
0701-0702, EN 61008 and 61009, and BS 7288.
"""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.electrics import (
    Limit,
    Machine,
    Protection,
    RuleSet,
    Source,
    german_earth,
    judge,
    limit_of,
    seen,
    uk_earth,
)
from kitshare.rules.instruments import MEASURED, Bound, Figure, Kind, Problem, ReadingRefused, Unit, figure
from kitshare.rules.leads import OHM_PER_KM, Lead

UK, DE = RuleSet.UNITED_KINGDOM, RuleSet.GERMANY
I, II, III = Protection.CLASS_I, Protection.CLASS_II, Protection.CLASS_III  # noqa: E741 - as the trade writes them
STEP = Decimal("0.001")


def lead(length_m, mm2="1.5"):
    return Lead(length_m=Decimal(length_m), mm2=Decimal(mm2))


def of(protection=I, **facts):
    return Machine(protection=protection, **({"lead": lead("5")} | facts))


@pytest.mark.parametrize(
    ("length_m", "ohm"),
    [("0", "0.3"), ("5", "0.3"), ("5.1", "0.4"), ("12.5", "0.4"), ("12.6", "0.5"), ("20", "0.5"), ("57.5", "1.0")],
)
def test_a_german_lead_may_have_a_tenth_more_for_each_further_seven_and_a_half_metres_begun(length_m, ohm):
    """DIN VDE 0701-0702, quoted: 0.3 ohm to 5 m, 0.1 more for each further 7.5 m begun."""
    assert german_earth(Decimal(length_m)) == Decimal(ohm)


@pytest.mark.parametrize("length_m", ["57.6", "200"])
def test_no_german_lead_may_have_more_than_one_ohm(length_m):
    assert german_earth(Decimal(length_m)) == 1


@pytest.mark.parametrize(
    ("length_m", "mm2", "ohm"),
    [
        ("0", "1.5", "0.1"),
        ("10", "1.5", "0.233"),
        ("25", "2.5", "0.2995"),
        ("15", "0.75", "0.49"),
        ("2", "4", "0.1099"),
    ],
)
def test_a_british_earth_may_have_a_tenth_of_an_ohm_and_what_its_lead_has(length_m, mm2, ohm):
    """IET code of practice, quoted, with the conductor of IEC 60228 class 5: 13.3 ohm/km at 1.5 mm2."""
    assert uk_earth(lead(length_m, mm2)) == Decimal(ohm)


LIMITS = [
    (UK, Kind.EARTH, of(), "0.1665", Source.IET),
    (DE, Kind.EARTH, of(), "0.3", Source.VDE),
    (UK, Kind.LEAKAGE, of(), "3.5", Source.IET),
    (UK, Kind.LEAKAGE, of(hand_held=True), "0.75", Source.IET),
    (UK, Kind.LEAKAGE, of(II), "0.25", Source.IET),
    (DE, Kind.LEAKAGE, of(), "3.5", Source.VDE),
    (DE, Kind.LEAKAGE, of(hand_held=True), "3.5", Source.VDE),
    (DE, Kind.LEAKAGE, of(heating_kw=Decimal("3.5")), "3.5", Source.VDE),
    (DE, Kind.LEAKAGE, of(heating_kw=Decimal(6)), "6", Source.VDE),
    (DE, Kind.LEAKAGE, of(heating_kw=Decimal(12)), "10", Source.VDE),
    (DE, Kind.LEAKAGE, of(II), "0.5", Source.VDE),
    (UK, Kind.TRIP_RATED, of(), "200", Source.BS_7288),
    (UK, Kind.TRIP_RATED, of(portable_switch=False), "300", Source.EN_TRIP_SWITCHES),
    (UK, Kind.TRIP_FIVE, of(), "40", Source.BS_7288),
    (UK, Kind.TRIP_FIVE, of(portable_switch=False), "40", Source.EN_TRIP_SWITCHES),
    (DE, Kind.TRIP_RATED, of(portable_switch=False), "300", Source.EN_TRIP_SWITCHES),
    (DE, Kind.TRIP_FIVE, of(portable_switch=False), "40", Source.EN_TRIP_SWITCHES),
]


@pytest.mark.parametrize(("rules", "kind", "machine", "limit", "source"), LIMITS)
def test_a_reading_up_to_its_limit_is_within_and_one_just_over_is_not(rules, kind, machine, limit, source):
    under, at, over = (
        judge(Figure(value=Decimal(limit) + step), kind=kind, rules=rules, machine=machine) for step in (-STEP, 0, STEP)
    )

    assert (under.within, at.within, over.within) == (True, True, False)
    assert (under.at_limit, at.at_limit, over.at_limit) == (False, True, False)
    assert at.limit.source is source
    assert at.limit.unit is MEASURED[kind].unit


INSULATION = [
    (UK, of(), "1"),
    (UK, of(II), "2"),
    (UK, of(III), "0.25"),
    (UK, of(heating_kw=Decimal("0.001")), "0.3"),
    (UK, of(heating_kw=Decimal("2.999")), "0.3"),
    (UK, of(heating_kw=Decimal(3)), "1"),
    (UK, of(II, heating_kw=Decimal(2)), "2"),
    (DE, of(), "1"),
    (DE, of(II), "2"),
    (DE, of(III), "0.25"),
    (DE, of(heating_kw=Decimal("0.001")), "0.3"),
    (DE, of(heating_kw=Decimal(2)), "0.3"),
    (DE, of(heating_kw=Decimal(6)), "0.3"),
]


@pytest.mark.parametrize(("rules", "machine", "limit"), INSULATION)
def test_insulation_down_to_its_limit_is_within_and_just_under_is_not(rules, machine, limit):
    """At 500 V: class I 1 megohm, class II 2, class III 0.25, class I that heats 0.3 (both rule sets, quoted)."""
    under, at, over = (
        judge(Figure(value=Decimal(limit) + step), kind=Kind.INSULATION, rules=rules, machine=machine)
        for step in (-STEP, 0, STEP)
    )

    assert (under.within, at.within, over.within) == (False, True, True)
    assert at.at_limit
    source = Source.IET if rules is UK else Source.VDE
    assert at.limit == Limit(value=Decimal(limit), unit=Unit.MEGOHM, source=source, at_most=False)


@pytest.mark.parametrize(
    ("rules", "kind", "machine"),
    [
        (UK, Kind.LEAKAGE, of(III)),
        (DE, Kind.LEAKAGE, of(III)),
        (DE, Kind.TRIP_RATED, of()),
        (DE, Kind.TRIP_FIVE, of()),
        (UK, Kind.VISUAL, of()),
        *((None, kind, of()) for kind in MEASURED),
    ],
)
def test_where_a_rule_set_gives_no_limit_none_is_borrowed_from_another(rules, kind, machine):
    assert limit_of(kind, rules=rules, machine=machine) is None
    assert judge(Figure(value=Decimal(1)), kind=kind, rules=rules, machine=machine).within is None


def test_each_limit_comes_from_the_standards_of_its_own_country():
    machines = [of(p, portable_switch=x, hand_held=x) for p in Protection for x in (True, False)]
    asked = [(k, m) for k in MEASURED for m in machines if k is not Kind.EARTH or m.protection is I]
    found = {r: {limit.source for k, m in asked if (limit := limit_of(k, rules=r, machine=m))} for r in RuleSet}

    assert found == {
        UK: {Source.IET, Source.BS_7288, Source.EN_TRIP_SWITCHES},
        DE: {Source.VDE, Source.EN_TRIP_SWITCHES},
    }


@pytest.mark.parametrize(
    ("kind", "bound", "value", "within"),
    [
        (Kind.INSULATION, Bound.MORE, "200", True),
        (Kind.INSULATION, Bound.MORE, "1", True),
        (Kind.INSULATION, Bound.LESS, "0.01", False),
        (Kind.TRIP_RATED, Bound.MORE, "300", False),
        (Kind.TRIP_RATED, Bound.MORE, "200", False),
        (Kind.LEAKAGE, Bound.LESS, "0.1", True),
    ],
)
def test_beyond_what_the_instrument_shows_is_judged_where_it_tells(kind, bound, value, within):
    verdict = judge(Figure(value=Decimal(value), bound=bound), kind=kind, rules=UK, machine=of())

    assert (verdict.within, verdict.at_limit) == (within, False)
    assert verdict.limit == limit_of(kind, rules=UK, machine=of())


@pytest.mark.parametrize(
    ("kind", "bound", "value"),
    [
        (Kind.INSULATION, Bound.MORE, "0.999"),
        (Kind.INSULATION, Bound.LESS, "1.001"),
        (Kind.TRIP_RATED, Bound.MORE, "199"),
        (Kind.LEAKAGE, Bound.LESS, "20"),
    ],
)
def test_beyond_a_value_that_could_be_either_side_is_refused(kind, bound, value):
    with pytest.raises(ReadingRefused) as refused:
        judge(Figure(value=Decimal(value), bound=bound), kind=kind, rules=UK, machine=of())

    assert (refused.value.problem, refused.value.kind) == (Problem.TELLS_NOTHING, kind)
    assert refused.value.value == Decimal(value)
    assert refused.value.limit == limit_of(kind, rules=UK, machine=of()).value


@pytest.mark.parametrize(
    ("machine", "problem"),
    [
        (of(II), Problem.HAS_NO_EARTH),
        (of(III), Problem.HAS_NO_EARTH),
        (Machine(protection=I), Problem.LEAD_NOT_SAID),
    ],
)
@pytest.mark.parametrize("rules", [UK, DE, None])
def test_an_earth_reading_needs_an_earth_and_a_lead(machine, problem, rules):
    with pytest.raises(ReadingRefused) as refused:
        judge(Figure(value=Decimal("0.1")), kind=Kind.EARTH, rules=rules, machine=machine)

    assert (refused.value.problem, refused.value.kind) == (problem, Kind.EARTH)
    if rules is not None:
        with pytest.raises(ReadingRefused) as refused:
            limit_of(Kind.EARTH, rules=rules, machine=machine)
        assert (refused.value.problem, refused.value.kind) == (problem, Kind.EARTH)


def test_what_has_no_figure_is_as_somebody_saw_it():
    assert seen(True).within is True
    assert seen(False).within is False
    assert seen(True).limit is None


@pytest.mark.parametrize(
    ("text", "kind", "value", "bound"),
    [
        ("0,12", Kind.EARTH, "0.12", Bound.EXACT),
        ("0,123", Kind.EARTH, "0.123", Bound.EXACT),
        (" 0.12 Ω ", Kind.EARTH, "0.12", Bound.EXACT),
        ("0.12 \N{OHM SIGN}", Kind.EARTH, "0.12", Bound.EXACT),
        (">200 MΩ", Kind.INSULATION, "200", Bound.MORE),
        ("> 19,99 Mohm", Kind.INSULATION, "19.99", Bound.MORE),
        ("<0.1mA", Kind.LEAKAGE, "0.1", Bound.LESS),
        ("1 200 ms", Kind.TRIP_RATED, "1200", Bound.EXACT),
        ("28", Kind.TRIP_FIVE, "28", Bound.EXACT),
    ],
)
def test_a_figure_is_read_as_people_write_it(text, kind, value, bound):
    assert figure(text, kind) == Figure(value=Decimal(value), bound=bound)


@pytest.mark.parametrize(
    ("text", "kind", "problem"),
    [
        ("", Kind.EARTH, Problem.NO_FIGURE),
        ("ok", Kind.EARTH, Problem.NO_FIGURE),
        ("-0.1", Kind.EARTH, Problem.NO_FIGURE),
        ("1e3", Kind.INSULATION, Problem.NO_FIGURE),
        ("0.1.2", Kind.EARTH, Problem.NO_FIGURE),
        ("٣", Kind.EARTH, Problem.NO_FIGURE),
        ("9" * 41, Kind.EARTH, Problem.NO_FIGURE),
        ("1,234", Kind.INSULATION, Problem.UNCLEAR_COMMA),
        ("12 mΩ", Kind.EARTH, Problem.WRONG_UNIT),
        ("200 mΩ", Kind.INSULATION, Problem.WRONG_UNIT),
        ("200 Ω", Kind.INSULATION, Problem.WRONG_UNIT),
        ("0.2 s", Kind.TRIP_RATED, Problem.WRONG_UNIT),
        ("0.2 µA", Kind.LEAKAGE, Problem.WRONG_UNIT),
        ("20001", Kind.EARTH, Problem.OUT_OF_RANGE),
        ("100000.1", Kind.INSULATION, Problem.OUT_OF_RANGE),
        ("1000.1", Kind.LEAKAGE, Problem.OUT_OF_RANGE),
        ("0", Kind.TRIP_RATED, Problem.OUT_OF_RANGE),
        ("10001", Kind.TRIP_FIVE, Problem.OUT_OF_RANGE),
    ],
)
def test_what_is_no_such_reading_is_refused_and_not_guessed(text, kind, problem):
    with pytest.raises(ReadingRefused) as refused:
        figure(text, kind)

    assert refused.value.problem is problem


@given(
    value=st.decimals(0, 10_000, places=3),
    kind=st.sampled_from(sorted(MEASURED)),
    rules=st.sampled_from(RuleSet),
    length=st.decimals(0, 200, places=1),
    mm2=st.sampled_from(sorted(OHM_PER_KM)),
)
@settings(max_examples=100)
def test_a_worse_reading_is_never_judged_better(value, kind, rules, length, mm2):
    machine = of(lead=Lead(length_m=length, mm2=mm2), portable_switch=False)
    worse = value / 2 if kind is Kind.INSULATION else value * 2

    was, became = (judge(Figure(value=v), kind=kind, rules=rules, machine=machine) for v in (value, worse))

    assert was.within or not became.within
    assert was.limit == became.limit


@given(text=st.text(max_size=12), kind=st.sampled_from(sorted(MEASURED)))
@settings(max_examples=200)
def test_whatever_is_typed_is_read_or_refused(text, kind):
    try:
        found = figure(text, kind)
    except ReadingRefused:
        return

    assert MEASURED[kind].least <= found.value <= MEASURED[kind].most


def test_each_unit_is_shown_as_it_may_be_typed():
    for kind, measure in MEASURED.items():
        assert figure(f"1 {measure.unit}", kind).value == 1
    assert {measure.unit for measure in MEASURED.values()} == set(Unit)
