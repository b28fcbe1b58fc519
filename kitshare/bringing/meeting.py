"""Rows that meet: one hands the machines straight to the next, or two come to the depot on one day."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, time
from typing import NamedTuple

from django.db.models import Q
from django.utils.translation import gettext as _

from kitshare.bookings.models import AHEAD, HOLDING, Booking, Stage
from kitshare.bookings.times import TimesCross
from kitshare.bookings.words import day_at, machines_in_words
from kitshare.bringing.meaning import OVER, Standing, Verdict, uid_of_reference
from kitshare.kits.models import Machine

Place = tuple[int, date]


def join_relays(verdicts: Sequence[Verdict]) -> None:
    """Join each row that takes over from another to that one, or say why they do not fit together."""
    making = {one.uid: one for one in verdicts if one.standing == Standing.MAKE}
    for one in list(making.values()):
        if not one.row.relay_from:
            continue
        first = making.get(uid_of_reference(one.row.relay_from))
        if problem := _why_no_relay(first, one):
            one.refuse(Standing.UNCLEAR, problem)
        elif first is not None:
            one.takes_from, first.hands_on = first, True


def _why_no_relay(first: Verdict | None, second: Verdict) -> str:
    if first is None:
        return _("It takes over from a booking that this file does not make. Arrange the relay on its page afterwards.")
    words = {"row": first.row.place}
    assert first.period is not None  # noqa: S101
    assert second.period is not None  # noqa: S101
    if first.hands_on:
        return _("Another row takes over from row %(row)d already.") % words
    if set(first.machines) != set(second.machines) or first.period.end != second.period.start:
        return _("It takes over from row %(row)d: the same machines, on the day on which that one is done.") % words
    if first.back_time != second.out_time:
        return _("It takes over from row %(row)d: both come at one time.") % words
    if not (second.row.carried_by and second.row.meet_at):
        return _("It takes over from row %(row)d: say who carries it and where they meet.") % words
    pending = first.stage in {Stage.AGREED, Stage.OUT} and second.stage in AHEAD
    done = first.stage in OVER and second.stage in {Stage.OUT, *OVER}
    return "" if pending or done else _("It takes over from row %(row)d: the two stages do not go together.") % words


def check_times(verdicts: Sequence[Verdict], *, today: date) -> None:
    """Mark rows still to come that collect a machine before it is brought back on that day, or the other way round."""
    holding = [one for one in verdicts if one.standing == Standing.MAKE and one.holds]
    coming = [one for one in holding if one.is_ahead(today)]
    ends = _Ends()
    for one in holding:
        assert one.period is not None  # noqa: S101
        for machine in one.machines:
            ends.add(machine.pk, one.period.start, one.period.end, Met(one, one.out_time, one.back_time))
    ends.add_bookings_that_meet(coming)
    crossing = [(one, *each) for one in coming for each in ends.crossing(one)]
    keys = [met.who for _one, _machine, met, _before in crossing if isinstance(met.who, int)]
    here = Booking.objects.select_related("village").in_bulk(keys)
    for one, machine, met, comes_before in crossing:
        if isinstance(met.who, int):
            sentence = str(TimesCross(here[met.who], [machine], comes_before=comes_before))
        else:
            sentence = _crossed(met.who, machine, comes_before=comes_before)
        one.refuse(Standing.CLASH, sentence)


class Met(NamedTuple):
    """Somebody who has a machine: a booking that is here, by its key, or a row."""

    who: int | Verdict
    out_time: time
    back_time: time


class _Ends:
    """Who brings a machine back on a day, and who collects it."""

    def __init__(self) -> None:
        self.back: defaultdict[Place, list[Met]] = defaultdict(list)
        self.out: defaultdict[Place, list[Met]] = defaultdict(list)

    def add(self, machine: int, out_on: date, back_on: date, met: Met) -> None:
        self.back[machine, back_on].append(met)
        self.out[machine, out_on].append(met)

    def add_bookings_that_meet(self, verdicts: Sequence[Verdict]) -> None:
        """Those that are here, of the same machines, with an end on a day on which one of the rows has one."""
        periods = [one.period for one in verdicts if one.period]
        starts, stops = {each.start for each in periods}, {each.end for each in periods}
        machines = {machine.pk for one in verdicts for machine in one.machines}
        rows = Booking.machines.through.objects.filter(
            Q(booking__back_on__in=starts) | Q(booking__out_on__in=stops),
            machine__in=machines,
            booking__stage__in=HOLDING,
        )
        names = [
            "booking_id",
            "machine_id",
            *(f"booking__{name}" for name in ("out_on", "back_on", "out_time", "back_time")),
        ]
        for key, machine, out_on, back_on, out_time, back_time in rows.values_list(*names):
            self.add(machine, out_on, back_on, Met(key, out_time, back_time))

    def crossing(self, one: Verdict) -> Iterator[tuple[Machine, Met, bool]]:
        """Whom a row cannot meet as it is: the machine, who, and whether they come before it."""
        assert one.period is not None  # noqa: S101
        for machine in one.machines:
            for met in self.back[machine.pk, one.period.start]:
                if met.who is not one and met.back_time > one.out_time:
                    yield machine, met, True
            for met in self.out[machine.pk, one.period.end]:
                if met.who is not one and met.out_time < one.back_time:
                    yield machine, met, False


def _crossed(other: Verdict, machine: Machine, *, comes_before: bool) -> str:
    assert other.period is not None  # noqa: S101
    words = {
        "row": other.row.place,
        "machines": machines_in_words([machine]),
        "back": day_at(other.period.end, other.back_time),
        "out": day_at(other.period.start, other.out_time),
    }
    if comes_before:
        return _("Row %(row)d brings %(machines)s back on %(back)s. Collect at that time or later.") % words
    return _("Row %(row)d collects %(machines)s on %(out)s. Be back by that time or earlier.") % words
