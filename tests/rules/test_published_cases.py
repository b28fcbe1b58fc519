"""The rules of the press day against published cases, the source beside each.

READ: seen in the text named. QUOTED: seen in a text that quotes it. MEMORY: known, not looked up. COMPUTED: worked out
from IAPWS-IF97 and the standard atmosphere by an independent implementation, or on paper. Common practice has no source
and is no check value.
"""

from collections.abc import Callable
from decimal import Decimal
from itertools import permutations
from typing import NamedTuple

import pytest

from kitshare.rules import heat, heating, student_t, supplies, water, yields
from kitshare.rules.flow import Place, flow, makespan
from kitshare.rules.fruit import Measure, fruit
from kitshare.rules.heat import HeatLog, Organism
from kitshare.rules.units import to_celsius


class Case(NamedTuple):
    """A published number, how the rules arrive at it, and how closely they must."""

    name: str
    source: str
    ours: Callable[[], float]
    published: float
    within: float


def held(celsius: float, minutes: float) -> HeatLog:
    return HeatLog(minutes=(0.0, minutes), celsius=(celsius, celsius))


def pu(celsius: float, minutes: float) -> Callable[[], float]:
    return lambda: heat.pasteurisation_units(held(celsius, minutes), longest_gap_minutes=60)


def logs(organism: Organism, celsius: float, seconds: float) -> Callable[[], float]:
    return lambda: heat.lethality(held(celsius, seconds / 60)).logs[organism]


def two_stations(jobs: dict[str, tuple[float, float]], order: str) -> Callable[[], float]:
    return lambda: makespan(flow([jobs[name] for name in order], [Place(), Place()]))


IF97 = "IAPWS-IF97 at 0.101325 MPa, COMPUTED"
ATMOSPHERE = "ISO 2533 atmosphere and IAPWS-IF97 saturation line, COMPUTED"
SUCROSE = "USDA sucrose table and cubic fit to the NBS table, READ"
LEA = "A. Lea, cider makers' forum, 2012, READ"
FDA = "FDA, Juice hazards and controls guidance, QUOTED: five logs, times printed to a tenth of a second"
RAMP = "the linear ramp integrated on paper, COMPUTED"
PU = "PU = t 10^((T-60)/7), the definition for beer, READ; number COMPUTED"
T_TABLE = "NIST/SEMATECH e-Handbook and NIST TN 1297, tables of Student's t, READ"
JOHNSON = {"1": (4.0, 5.0), "2": (4.0, 1.0), "3": (30.0, 4.0), "4": (6.0, 30.0), "5": (2.0, 3.0)}
PAINTING = {"A": (5.0, 5.0), "B": (4.0, 3.0), "C": (8.0, 9.0), "D": (2.0, 7.0), "E": (6.0, 8.0), "F": (12.0, 15.0)}
HOFF = yields.Belief(mean=1.9, weight=1, shape=0.5, scale=0.005).learned(
    [1.64, 1.70, 1.72, 1.74, 1.82, 1.82, 1.82, 1.90, 2.08]
)

CASES = [
    # Density and heat capacity of water
    *[
        Case(f"water at {t} C, kg/m3", IF97, lambda t=t: 1000 * water.water_density(t), rho, 0.01)
        for t, rho in ((10, 999.70), (20, 998.21), (60, 983.21), (70, 977.78), (75, 974.86), (80, 971.80))
    ],
    *[
        Case(f"heat capacity of water at {t} C", IF97, lambda t=t: water.water_heat_capacity(t), cp, 0.001)
        for t, cp in ((10, 4.195), (20, 4.185), (60, 4.183), (70, 4.188), (75, 4.192), (80, 4.196))
    ],
    # Sugar and density of juice
    Case("SG 1.040 in Bx", SUCROSE, lambda: water.brix_from_gravity(1.040), 9.993, 0.001),
    Case("7.60 Bx as SG", SUCROSE, lambda: water.gravity_from_brix(7.60), 1.03017, 5e-5),
    Case("4.00 Bx as SG", SUCROSE, lambda: water.gravity_from_brix(4.00), 1.01569, 5e-5),
    Case("12 Bx as SG", "USDA sucrose table, COMPUTED", lambda: water.gravity_from_brix(12), 1.0484, 1e-4),
    Case("density of 12 Bx at 20 C", "USDA sucrose table, COMPUTED", lambda: water.juice_density(20), 1.0465, 1e-4),
    # Growth
    Case("growth of water 10 to 75 C, %", IF97, lambda: 100 * water.juice_growth(10, 75, 0), 2.55, 0.01),
    Case("growth of juice 10 to 75 C, %", IF97 + " with Choi-Okos solids", lambda: 100 * water.juice_growth(10, 75), 2.45, 0.02),
    Case("growth of glass over 65 K, %", "handbook value, MEMORY", lambda: 100 * 65 * water.GLASS_VOLUME_PER_K, 0.18, 0.006),
    Case("growth of water into ice, %", "998 to 917 kg/m3, handbook values, COMPUTED", lambda: 100 * water.freezing_growth(), 8.83, 0.05),
    # Heat capacity of juice
    Case("Siebel at 88 % water", "Siebel: 0.837 + 3.348 M, COMPUTED", lambda: water.siebel_heat_capacity(0.88), 3.783, 0.001),
    Case("Choi-Okos, 12 Bx, 20 C", "Choi and Okos, 1986, COMPUTED", lambda: water.juice_heat_capacity(20), 3.866, 0.001),
    Case("Choi-Okos, 12 Bx, 75 C", "Choi and Okos, 1986, COMPUTED", lambda: water.juice_heat_capacity(75), 3.896, 0.001),
    Case(
        "juice by water and solids", "NZIFST Unit Operations, appendix 7, READ: within the tenth allowed for",
        lambda: water.juice_heat_capacity(40), 3.788, 0.11,
    ),
    # Boiling
    *[
        Case(f"boiling at {m} m", ATMOSPHERE, lambda m=m: water.boiling_point_at(m), t, 0.006)
        for m, t in (
            (0, 99.97), (300, 98.98), (500, 98.31), (1000, 96.65), (1500, 94.98), (2000, 93.32), (3048, 89.81),
        )
    ],
    Case("boiling at 970 hPa", ATMOSPHERE, lambda: water.boiling_point(970), 98.76, 0.006),
    Case("boiling at 1040 hPa", ATMOSPHERE, lambda: water.boiling_point(1040), 100.71, 0.006),
    Case("saturation at 0.1 MPa, K", "IAPWS R7-97, table 36, MEMORY", lambda: 273.15 + water.boiling_point(1000), 372.755919, 1e-6),
    Case("pressure at 1,000 m, hPa", "ISO 2533, table, MEMORY", lambda: water.air_pressure(1000), 898.75, 0.02),
    Case("pressure at 2,000 m, hPa", "ISO 2533, table, MEMORY", lambda: water.air_pressure(2000), 794.95, 0.02),
    # Lethality
    Case("60 to 67 C in 7 min", RAMP, lambda: heat.ramp_minutes(7, 60, 67), 27.36, 0.005),
    Case("60 to 74 C in 14 min", RAMP, lambda: heat.ramp_minutes(14, 60, 74), 300.97, 0.005),
    Case("50 to 70 C in 20 min", RAMP, lambda: heat.ramp_minutes(20, 50, 70), 81.44, 0.005),
    Case("65 C, 30 min", PU, pu(65, 30), 155, 0.5),
    Case("70 C, 20 min", PU, pu(70, 20), 537, 0.5),
    Case("72 C, 20 min", PU, pu(72, 20), 1036, 0.5),
    Case("75 C, 20 min", PU, pu(75, 20), 2779, 1),
    Case("80 C, 20 min", PU, pu(80, 20), 14_394, 5),
    Case("60 C, 1 min", "one PU is a minute at 60 C: a dictionary of units, READ", pu(60, 1), 1, 1e-9),
    Case("a minute at 74 C", LEA, pu(74, 1), 100, 0.1),
    Case("1,000 PU at 74 C, min", LEA, pu(74, 10), 1000, 1),
    Case("71.1 C, 6 s", PU, pu(71.1, 0.1), 3.9, 0.05),
    Case("a probe one degree wrong", PU, lambda: heat.rate(61) / heat.rate(60), 1.39, 0.005),
    Case("the rate by its other name", "PU = t 1.393^(T-60), a dictionary of units, READ", lambda: heat.rate(61), 1.393, 0.004),
    Case(
        "80 C, 20 min, spore-formers", "base 80 C, z 10 C, maker of drinks' plant, READ",
        lambda: heat.lethality(held(80, 5)).spore_80_10 * 4, 20, 1e-6,
    ),
    *[
        Case(f"Cryptosporidium, {f} F, {s} s", FDA, logs(Organism.CRYPTOSPORIDIUM, to_celsius(f), s), 5, 0.42)
        for f, s in ((160, 6), (165, 2.8), (170, 1.3), (175, 0.6), (180, 0.3))
    ],
    Case(
        "E. coli O157:H7, 71.1 C, 3 s", "Mazzotta, J Food Prot 64:315, 2001, READ",
        logs(Organism.E_COLI_O157, 71.1, 3), 5, 1e-6,
    ),
    Case(
        "E. coli, 68.1 C, 14 s", "Mak et al., J Food Prot 64:1679, 2001, READ: five logs; 6.3 by the line above",
        logs(Organism.E_COLI_O157, 68.1, 14), 6.3, 0.05,
    ),
    # Yield, fruit, pomace
    Case("juice of a 16 kg crate", "The Orchard Project, READ: 8 L", lambda: yields.forecast(16, yields.Belief(mean=0.5, weight=2, shape=2, scale=0.01)).expected, 8, 1e-9),
    *[
        Case(f"yield by learning one day of {litres_per_kg}", source, lambda y=litres_per_kg: (2 * 0.55 + y) / 3 - yields.PUBLISHED.learned([y]).mean, 0, 1e-12)
        for litres_per_kg, source in (
            (0.5, "The Orchard Project, READ: 10 kg give 5 L; mean on paper"),
            (0.625, "growers' pages, READ, weak: 3,200 kg to 2,000 L; mean on paper"),
            (0.275, "a grower's diary, READ, weak: overripe fruit; mean on paper"),
        )
    ],
    Case("juice of a 24 kg tub", "The Orchard Project, READ: 12 L", lambda: yields.forecast(24, yields.Belief(mean=0.5, weight=2, shape=2, scale=0.01)).expected, 12, 1e-9),
    Case("large tree, kg", "The Orchard Project, READ: over 250 kg", lambda: float(fruit(Decimal(1), Measure.LARGE_TREE).picked_kg), 250, 0),
    Case("small tree, kg", "The Orchard Project, READ", lambda: float(fruit(Decimal(1), Measure.SMALL_TREE).picked_kg), 50, 0),
    Case(
        "pomace of a 75 % pressing, % of the fruit", "Shalini and Gupta, J Food Sci Technol 47:365, 2010, READ",
        lambda: float(supplies.pomace(Decimal(100), Decimal(75) / Decimal("1.0465")).kg), 25, 1e-6,
    ),
    # Learning
    Case("midge wings, mean", "Hoff, A first course in Bayesian statistical methods, 5.3, MEMORY", lambda: HOFF.mean, 1.814, 0.001),
    Case("midge wings, variance", "the same", lambda: HOFF.scale / HOFF.shape, 0.015, 0.0005),
    *[
        Case(f"t, {p}, {df} degrees", T_TABLE, lambda p=p, df=df: student_t.quantile(p, df), t, 0.0006)
        for p, df, t in (
            (0.95, 1, 6.314), (0.975, 1, 12.706), (0.975, 2, 4.303), (0.95, 5, 2.015),
            (0.975, 10, 2.228), (0.995, 30, 2.750), (0.975, 100, 1.984), (0.999, 3, 10.215),
        )
    ],
    # Flow shops
    Case("Johnson's five items", "Johnson, Naval Res Log Quarterly 1:61, 1954, MEMORY", two_stations(JOHNSON, "51432"), 47, 0),
    Case(
        "cleaning and painting", "an operations management textbook's example 16.4, data and order READ, total on paper",
        two_stations(PAINTING, "DECFAB"), 51, 0,
    ),
    # Supplies and heating
    Case(
        "a tablespoon of 5.25 % in a US gallon, ml", "NC State Extension, READ: about 200 ppm; 204 COMPUTED",
        lambda: float(
            supplies.dilution(
                supplies.Sanitiser.CHLORINE, strength_percent=Decimal("5.25"), litres=Decimal("3.785"), ppm=Decimal(205)
            ).concentrate_ml
        ),
        14.787, 0.03,
    ),
    Case("ascorbic acid in 10 L, g", "A. Lea, READ", lambda: float(supplies.ascorbic_acid(Decimal(10)).grams), 5, 0),
    Case(
        "100 L, 2.5 kW, 12 to 82 C, hours", "a maker's account of about four hours, READ, start assumed",
        lambda: heating.minutes_to_reach(
            heating.Load(juice_litres=100), heating.Heater(kw=2.5), from_c=12, to_c=82
        ) / 60,
        4, 0.4,
    ),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_rules_agree_with_what_is_published(case: Case) -> None:
    assert case.ours() == pytest.approx(case.published, abs=case.within, rel=0)


# What each topic's cases are called, so that none can be lost unseen.
TOPICS = {
    "density": ("water at", "density of", "as SG", "in Bx"),
    "expansion": ("growth of",),
    "heat capacity": ("heat capacity", "Siebel", "Choi-Okos", "juice by water and solids"),
    "boiling point with altitude": ("boiling at", "saturation at", "pressure at"),
    "lethality": (" C, ", " C in ", "a minute at", "1,000 PU", "the rate by", "a probe one degree", "Cryptosporidium"),
    "yield": ("juice of", "yield by", "small tree", "pomace of"),
    "Student t": ("t, ", "midge wings"),
    "flow shop": ("Johnson's", "cleaning and painting"),
}


def test_every_topic_has_its_cases() -> None:
    found = {
        topic: [case.name for case in CASES if any(word in case.name for word in words)]
        for topic, words in TOPICS.items()
    }

    assert {topic for topic, names in found.items() if len(names) < 2} == set()


def test_there_are_forty_cases_and_each_names_its_source() -> None:
    assert len(CASES) >= 40
    assert len({case.name for case in CASES}) == len(CASES)
    assert all(case.source for case in CASES)


RANGES = [
    # The Orchard Project, READ: 10 kg gives 5 L.
    0.5,
    # Growers' pages on rack-and-cloth days, READ, weak: 3,200 kg to 2,000 L.
    0.625,
    # Making Apple Cider, University of Georgia Cooperative Extension, READ: 3 US gal a bushel of 42 lb, of 48 lb.
    3 * 3.785411784 / (42 * 0.45359237),
    3 * 3.785411784 / (48 * 0.45359237),
]


@pytest.mark.parametrize("litres_per_kg", RANGES)
def test_published_yields_lie_in_the_range_before_any_day_is_recorded(litres_per_kg: float) -> None:
    low, high = yields.PUBLISHED.interval()

    assert low < litres_per_kg < high


def test_the_recorded_bad_case_lies_outside_and_moves_the_range() -> None:
    """Overripe fruit: 0.275 L/kg in a grower's diary, READ, weak."""
    assert yields.PUBLISHED.interval()[0] > 0.275
    assert yields.PUBLISHED.learned([0.275]).interval()[0] < 0.275


def test_johnsons_order_is_the_best_of_all() -> None:
    every = [makespan(flow([JOHNSON[n] for n in order], [Place(), Place()])) for order in permutations(JOHNSON)]

    assert min(every) == 47


def test_a_plain_rule_for_boiling_water_would_fail_a_perfect_probe_on_a_hill() -> None:
    assert water.boiling_point_at(300) < 99
