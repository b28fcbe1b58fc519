"""What the clock of a press day says of heating: each pasteuriser, and each kind of container in it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kitshare.pressdays.day_clock import BathDay, DayClock
from kitshare.rules.heating import BatchMinutes
from kitshare.rules.pressday import DayPlan
from kitshare.rules.yard import BathPlan
from kitshare.web.pressdays import clock_words
from kitshare.web.pressdays.clock_words import how_long, letter


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatedKind:
    """A kind that is heated, and the letter by which picture and card tell it where there are several."""

    letter: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The parts of one batch in the bath."""

    total: str
    heat_up: str
    catch_up: str
    hold: str
    bath_from_c: str

    @classmethod
    def of(cls, minutes: BatchMinutes) -> "Stretch":
        """The minutes in words."""
        return cls(
            total=how_long(minutes.total),
            heat_up=how_long(minutes.heat_up),
            catch_up=how_long(minutes.catch_up),
            hold=how_long(minutes.hold),
            bath_from_c=clock_words.number(minutes.bath_from_c),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RackFacts:
    """One kind in one pasteuriser: how many in a full rack, and how a cold first and a warm later batch go, if any."""

    name: str
    bottles: int
    litres: float
    first: Stretch | None
    later: Stretch | None
    cool_first: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BathFacts:
    """One pasteuriser: what it heats with, how each kind goes, or that it does not get there.

    `cool_to` is how cool it has to be before cold glass goes in; `cool_for` the kinds for which, if not for all.
    """

    title: str
    kw: str
    loss: str
    rests_on: str
    bath_c: str = ""
    racks: tuple[RackFacts, ...] = ()
    cool_to: str = ""
    cool_for: str = ""
    stops_at_c: str = ""


def kind_names(clock: DayClock) -> dict[str, str]:
    """Each kind that is heated, as the scheme calls it, by its key."""
    names = {str(one.kind.pk): one.kind.name for one in clock.ahead.to_bring}
    return {kind.key: names.get(kind.key, "") for kind in clock.heated}


def container_name(clock: DayClock) -> str:
    """The one kind that is heated; empty if there is none, or several."""
    return next(iter(kind_names(clock).values())) if clock.heats_one_kind else ""


def heated_kinds(clock: DayClock) -> list[HeatedKind]:
    """All kinds that are heated with their letters, in the order in which they are heated."""
    names = kind_names(clock)
    return [HeatedKind(letter=letter(place), name=name) for place, name in enumerate(names.values())]


def bath_facts(one: BathDay, plan: DayPlan, names: Mapping[str, str]) -> BathFacts:
    """One pasteuriser in words. `names` are those of the kinds that are heated, by key."""
    facts: dict[str, Any] = {
        "title": clock_words.bath_title(one),
        "kw": clock_words.number(one.bath.heater.kw, 1),
        "loss": clock_words.number(one.bath.heater.loss_w_per_k),
        "rests_on": one.learned.words,
        "stops_at_c": "" if one.stops_at_c is None else clock_words.number(one.stops_at_c),
    }
    if one.plans:
        racks = [_rack(found, plan, names, is_first=found is one.plans[0]) for found in one.plans]
        cooled = [rack for rack in racks if rack.cool_first]
        facts |= {
            "bath_c": clock_words.number(one.plans[0].batches.bath_c),
            "racks": tuple(racks),
            "cool_to": next((rack.later.bath_from_c for rack in cooled if rack.later), ""),
            "cool_for": clock_words.listed([rack.name for rack in cooled]) if len(cooled) < len(racks) else "",
        }
    return BathFacts(**facts)


def _rack(found: BathPlan, plan: DayPlan, names: Mapping[str, str], *, is_first: bool) -> RackFacts:
    """The kind that begins finds the bath cold; so does another whose batch is the first in one of several baths."""
    heat = plan.given.heat
    numbers = [bar.batch for bar in plan.heated if bar.kind == found.kind.key]
    cold = [number for number in numbers if heat and number <= heat.pasteurisers]
    warm = len(numbers) > len(cold) or (is_first and found.batches.batches > 1)
    return RackFacts(
        name=names.get(found.kind.key, ""),
        bottles=found.bottles,
        litres=found.litres,
        first=Stretch.of(found.batches.first) if cold or is_first else None,
        later=Stretch.of(found.batches.later) if warm else None,
        cool_first=warm and found.batches.cool_bath_first,
    )
