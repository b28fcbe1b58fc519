"""Whose turn it is on a waiting list, and how long an offer of days stands.

The order is that of the list given. Whoever comes first and fits the free days has the turn; nobody is passed over for
days that they do not compete for.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

from kitshare.rules import periods
from kitshare.rules.periods import ONE_DAY, Period

MachineDay = tuple[int, date]

# A kit is fetched in the morning of its first day; from then on those days are nobody's to offer.
FETCHED_AT: Final = time(8)
# Nobody is asked for an answer in less time, and nobody's time runs out in the night.
LEAST: Final = timedelta(hours=1)
ASKED_FROM: Final = time(9)
ASKED_UNTIL: Final = time(21)
# One offer takes at most this part of the time that is left, so that others can be asked after it.
PART_OF_WHAT_IS_LEFT: Final = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Somebody who waits for machines over some days.

    `care_days` has each machine asked for, with its days of cleaning afterwards (0 or more). A spell that is offered
    lies wholly in `season`, and begins at most `play_days` (0 or more) earlier or later than `wanted`. Who `rests` was
    offered the days that are free now, and did not take them.
    """

    key: int
    wanted: Period
    care_days: Mapping[int, int]
    season: Period
    play_days: int = 0
    rests: bool = False

    @property
    def spells(self) -> Sequence[Period]:
        """Every spell that would do, the one wanted first, then the nearest, earlier first at a tie."""
        shifts = sorted(range(-self.play_days, self.play_days + 1), key=lambda shift: (abs(shift), shift))
        return [self.wanted.shifted(shift) for shift in shifts]


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """These days are to be offered to whoever waits under this key."""

    key: int
    spell: Period


def held(wait: Wait, spell: Period) -> set[MachineDay]:
    """Each machine with each day on which it is spoken for, if the spell is theirs: care days included."""
    return {(machine, day) for machine, care in wait.care_days.items() for day in periods.held_days(spell, care)}


def spell_for(wait: Wait, *, taken: Collection[MachineDay], not_before: date) -> Period | None:
    """The first spell that would do and is free for every machine, from `not_before` on; None when there is none."""
    for spell in wait.spells:
        if spell.start >= not_before and spell.fits_in(wait.season) and held(wait, spell).isdisjoint(taken):
            return spell
    return None


def turns(waits: Iterable[Wait], *, taken: Collection[MachineDay], not_before: date) -> list[Turn]:
    """What is to be offered to whom, in the order of the list. No machine is offered twice for a day."""
    spoken_for = set(taken)
    found = []
    for wait in waits:
        if wait.rests:
            continue
        spell = spell_for(wait, taken=spoken_for, not_before=not_before)
        if spell is not None:
            found.append(Turn(key=wait.key, spell=spell))
            spoken_for |= held(wait, spell)
    return found


def awake_again(waits: Iterable[Wait], *, promised: Collection[MachineDay], not_before: date) -> list[int]:
    """Who rests and need not any longer: the days that they did not take are promised to somebody now."""
    return [wait.key for wait in waits if wait.rests and spell_for(wait, taken=promised, not_before=not_before) is None]


def compete(one: Wait, other: Wait) -> bool:
    """Whether some spell of the one could be in the way of some spell of the other."""
    shared = one.care_days.keys() & other.care_days.keys()
    return any(_reach(one, machine).overlaps(_reach(other, machine)) for machine in shared)


def _reach(wait: Wait, machine: int) -> Period:
    play = timedelta(days=wait.play_days)
    return Period(start=wait.wanted.start - play, end=wait.wanted.end + play + timedelta(days=wait.care_days[machine]))


def first_day_to_offer(*, at: datetime, zone: tzinfo) -> date:
    """The first day that can still be offered: today while there is time to answer before the kit is fetched."""
    today = at.astimezone(zone).date()
    return today if _fetched(today, zone) - at >= LEAST else today + ONE_DAY


def answer_by(*, at: datetime, hours: int, first_day: date, zone: tzinfo) -> datetime:
    """Until when an offer made at a moment stands, in UTC and whole minutes.

    It stands for `hours` (1 or more), but for a quarter of the time until the kit is fetched if that is less, and for
    an hour at least. Where that ends in the night it ends at nine the next morning, if the kit is not fetched by then.

    Raises ValueError when `first_day` cannot be offered any longer, or `hours` is no length of time.
    """
    fetched = _fetched(first_day, zone)
    left = fetched - at
    if hours < 1 or left < LEAST:
        raise ValueError(f"no time to answer: {hours} h, {left} left")
    until = at.astimezone(UTC) + min(timedelta(hours=hours), max(left / PART_OF_WHAT_IS_LEFT, LEAST))
    local = until.astimezone(zone)
    if not ASKED_FROM <= local.time() < ASKED_UNTIL:
        day = local.date() if local.time() < ASKED_FROM else local.date() + ONE_DAY
        morning = datetime.combine(day, ASKED_FROM, zone)
        until = morning if morning <= fetched else until
    return min(until, fetched).astimezone(UTC).replace(second=0, microsecond=0)


def _fetched(day: date, zone: tzinfo) -> datetime:
    # In UTC, so that lengths of time are real ones in the night in which the clocks change.
    return datetime.combine(day, FETCHED_AT, zone).astimezone(UTC)
