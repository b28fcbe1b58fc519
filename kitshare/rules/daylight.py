"""What to do when the light or the booking ends before the work: what is left, and what each way out would give."""

from dataclasses import dataclass, replace
from enum import StrEnum

from kitshare.rules.pressday import DayGiven, DayPlan, Station, plan_day
from kitshare.rules.water import require_between


class WayOut(StrEnum):
    """What can be done about work that does not fit."""

    SECOND_DAY = "second_day"
    FREEZE = "freeze"
    SECOND_PASTEURISER = "second_pasteuriser"
    START_EARLIER = "start_earlier"
    LESS_FRUIT = "less_fruit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A way out with its number: kilograms for the second day or to bring, litres to freeze, minutes else.

    For a second pasteuriser the number is the new finish; `enough` says whether the way alone lets the day end in time.
    """

    way: WayOut
    amount: float
    enough: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Overrun:
    """What is not done when the time is up: kilograms not pressed, litres not heated, minutes over, ways out.

    Without a press the kilograms are those that its last machine for fruit has not done.
    """

    minutes_over: float
    unpressed_kg: float
    unheated_litres: float
    options: tuple[Option, ...]


def overrun(plan: DayPlan, available_minutes: float) -> Overrun | None:
    """What is left if the day lasts so many minutes (1 to 2,880); None if all is done. Raises `OutOfRange`."""
    require_between("available_minutes", available_minutes, 1.0, 2880.0)
    if plan.finish <= available_minutes:
        return None
    late = [bar for bar in plan.bars if bar.end > available_minutes]
    fruit_stations = [station for station in plan.given.stations if station is not Station.FILL]
    unpressed = sum(bar.amount for bar in late if bar.station in fruit_stations[-1:])
    unheated = sum(bar.amount for bar in late if bar.station is Station.HEAT)
    return Overrun(
        minutes_over=plan.finish - available_minutes,
        unpressed_kg=unpressed,
        unheated_litres=unheated,
        options=tuple(_options(plan, available_minutes, unpressed, unheated)),
    )


def _options(plan: DayPlan, available: float, unpressed: float, unheated: float) -> list[Option]:
    options = [
        Option(way=WayOut.START_EARLIER, amount=plan.finish - available, enough=True),
    ]
    if unpressed:
        options.append(Option(way=WayOut.SECOND_DAY, amount=unpressed, enough=True))
    if unheated:
        options.append(Option(way=WayOut.FREEZE, amount=unheated, enough=_done_without(plan, available) <= available))
    if plan.given.heat:
        more = plan_day(with_pasteurisers(plan.given, plan.given.heat.pasteurisers + 1))
        options.append(Option(way=WayOut.SECOND_PASTEURISER, amount=more.finish, enough=more.finish <= available))
    less = most_fruit(plan.given, available)
    options.append(Option(way=WayOut.LESS_FRUIT, amount=less, enough=less > 0))
    return options


def _done_without(plan: DayPlan, available: float) -> float:
    """When all is clean and cool if the baths that would be late are left out."""
    cooling = plan.given.heat.cool_minutes if plan.given.heat else 0.0
    hot = [bar.end for bar in plan.heated if bar.end <= available]
    return max([plan.cleaned_at, *(end + cooling for end in hot)])


def most_fruit(given: DayGiven, available_minutes: float) -> float:
    """The most fruit, in whole kilograms up to what is there, that is finished in the time; 0 if none is.

    The yield stays as it is. More fruit never finishes sooner, so the place is found by doubling, then halving: no day
    is planned that is more than twice as large as the answer.
    """

    def fits(kg: int) -> bool:
        part = replace(given, fruit_kg=float(kg), juice_litres=given.juice_litres * kg / given.fruit_kg)
        return plan_day(part).finish <= available_minutes

    most, low, high = int(given.fruit_kg), 0, 1
    while high <= most and fits(high):
        low, high = high, 2 * high
    high = min(high - 1, most)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if fits(middle) else (low, middle - 1)
    return float(low)


def with_pasteurisers(given: DayGiven, pasteurisers: int) -> DayGiven:
    """The same day with so many baths; the same day if nothing is heated."""
    return replace(given, heat=replace(given.heat, pasteurisers=pasteurisers)) if given.heat else given
