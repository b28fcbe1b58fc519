"""Recording what a press day gave, correcting it, and taking out a day that was none.

Each deed notes with it how much the machines did, for the services that fall due by use.
"""

from collections.abc import Collection
from dataclasses import fields
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.words import day_in_words, machines_in_words
from kitshare.checks.models import HandoverCheck, Outcome
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.pressdays.record_models import USES, Given, PressDayRecord
from kitshare.pressdays.record_refusals import (
    DayChangedMeanwhile,
    DayNotOfBooking,
    DayRecordedAlready,
    MachineNotTaken,
    NothingToRecord,
    NotTheirsToRecord,
    RecordRefused,
    check_believable,
)
from kitshare.upkeep import use
from kitshare.upkeep.use_models import UseSource

WENT_OUT: Final = (Stage.OUT, Stage.BACK, Stage.CLOSED)
GRAMS: Final = Decimal("0.001")


def check_can_record(*, booking: Booking, by: Member) -> None:
    """Raise RecordRefused unless this member may write down what a day of this booking gave."""
    if not by.acts_for(booking.village):
        raise NotTheirsToRecord(booking)
    if booking.stage not in WENT_OUT:
        raise NothingToRecord(booking)


def can_record(*, booking: Booking, by: Member) -> bool:
    """Whether this member may write down what a day of this booking gave."""
    try:
        check_can_record(booking=booking, by=by)
    except RecordRefused:
        return False
    return True


def last_day(booking: Booking, *, today: date) -> date:
    """The last day on which the kit was with the village: when it was due back, or when it came back late."""
    if booking.stage == Stage.OUT:
        return today
    ended = HandoverCheck.objects.of(booking).filter(outcome=Outcome.HANDED_OVER).order_by("-done_at", "-pk").first()
    came_back = timezone.localtime(ended.done_at).date() if ended else booking.back_on
    return min(max(came_back, booking.back_on), max(today, booking.out_on))


@deed
def record_day(
    *,
    booking: Booking,
    day: date,
    given: Given,
    machines: Collection[Machine],
    by: Member,
    at: datetime,
    today: date,
) -> PressDayRecord:
    """Write down what a day gave. The same again is the same record, so that a double tap is one. RecordRefused."""
    booking = _lock(booking)
    check_can_record(booking=booking, by=by)
    given = _rounded(given)
    _check(booking=booking, day=day, given=given, machines=machines, today=today)
    there = booking.day_records.filter(day=day).select_related("recorded_by").first()
    if there is not None:
        if _differences(there, day, given, machines):
            raise DayRecordedAlready(there)
        return there
    record = PressDayRecord(booking=booking, day=day, recorded_by=by, recorded_at=at, **_as_fields(given))
    record.save(force_insert=True)
    record.machines.set(machines)
    text = _("Recorded what %(day)s gave: %(figures)s.")
    words = {"day": day_in_words(day), "figures": in_figures(record)}
    logbook.write(deed="press_day_recorded", text=text % words, about=_about(record, machines), by=by, at=at)
    _note_use(booking)
    return record


@deed
def correct_day(
    *,
    record: PressDayRecord,
    day: date,
    given: Given,
    machines: Collection[Machine],
    by: Member,
    at: datetime,
    today: date,
    seen_revision: int | None = None,
) -> PressDayRecord:
    """Put other figures in place of those recorded; the logbook keeps the earlier ones. RecordRefused."""
    booking = _lock(record.booking)
    check_can_record(booking=booking, by=by)
    record = PressDayRecord.objects.select_related("recorded_by").get(pk=record.pk)
    given = _rounded(given)
    _check(booking=booking, day=day, given=given, machines=machines, today=today)
    changes = _differences(record, day, given, machines)
    if not changes:
        return record
    if seen_revision is not None and seen_revision != record.revision:
        raise DayChangedMeanwhile(record, in_figures(record))
    if other := booking.day_records.filter(day=day).exclude(pk=record.pk).select_related("recorded_by").first():
        raise DayRecordedAlready(other)
    text = _("Corrected what %(day)s gave: %(changes)s.") % {"day": day_in_words(record.day), "changes": changes}
    for name, value in _as_fields(given).items():
        setattr(record, name, value)
    record.booking, record.day, record.recorded_by, record.recorded_at = booking, day, by, at
    record.revision += 1
    record.save()
    record.machines.set(machines)
    logbook.write(deed="press_day_corrected", text=text, about=_about(record, machines), by=by, at=at)
    _note_use(booking)
    return record


@deed
def take_out_day(*, record: PressDayRecord, by: Member, at: datetime) -> None:
    """Take out the record of a day that was none; the logbook keeps its figures. Twice is once. RecordRefused."""
    booking = _lock(record.booking)
    check_can_record(booking=booking, by=by)
    there = booking.day_records.filter(pk=record.pk).first()
    if there is None:
        return
    machines = list(there.machines.all())
    text = _("Took out the record of %(day)s, which was: %(figures)s.")
    words = {"day": day_in_words(there.day), "figures": in_figures(there)}
    logbook.write(deed="press_day_taken_out", text=text % words, about=_about(there, machines), by=by, at=at)
    there.delete()
    _note_use(booking)


def in_figures(record: PressDayRecord) -> str:
    """A record in a few words: "400 kg pressed, 220 L (120 heated, 100 fresh), 6 helpers for 5 h"."""
    by_use = {use: getattr(record, f"litres_{use}") for use in USES}
    parts = [f"{figure(litres)} {_label(f'litres_{use}')}" for use, litres in by_use.items() if litres]
    words = [_("%(kg)s kg pressed") % {"kg": figure(record.pressed_kg)}]
    if parts:
        words.append(_("%(litres)s L (%(parts)s)") % {"litres": figure(record.litres), "parts": ", ".join(parts)})
    if record.waste_kg:
        words.append(_("%(kg)s kg sorted out") % {"kg": figure(record.waste_kg)})
    for name in ("hours", "helpers", "batches", "reused_brought", "reused_broken"):
        if (value := getattr(record, name)) is not None:
            words.append(f"{_label(name)} {figure(value)}")
    return ", ".join([*words, *filter(None, [record.fruit])])


def _check(*, booking: Booking, day: date, given: Given, machines: Collection[Machine], today: date) -> None:
    last = last_day(booking, today=today)
    if not booking.out_on <= day <= last or day > today:
        raise DayNotOfBooking(booking.out_on, last)
    check_believable(given)
    taken = set(booking.machines.values_list("pk", flat=True))
    for machine in machines:
        if machine.pk not in taken:
            raise MachineNotTaken(machine)


def _differences(record: PressDayRecord, day: date, given: Given, machines: Collection[Machine]) -> str:
    """What differs from a record, in words: "fruit pressed: 400 → 420"; empty where nothing does."""
    words = []
    if day != record.day:
        words.append(f"{_label('day')}: {day_in_words(record.day)} → {day_in_words(day)}")
    for name, new in _as_fields(given).items():
        if (old := getattr(record, name)) != new:
            words.append(f"{_label(name)}: {figure(old)} → {figure(new)}")
    before = list(record.machines.order_by("position", "pk"))
    if {machine.pk for machine in before} != {machine.pk for machine in machines}:
        after = sorted(machines, key=lambda machine: (machine.position, machine.pk))
        words.append(f"{_label('machines')}: {_named(before)} → {_named(after)}")
    return ", ".join(words)


def _rounded(given: Given) -> Given:
    """To the gram and the millilitre, as they are kept; words without space around them."""
    values = _as_fields(given)
    for name, value in values.items():
        if isinstance(value, Decimal) and value.is_finite() and abs(value) < 10**9:
            values[name] = round(value, 1) if name == "hours" else value.quantize(GRAMS)
        elif isinstance(value, str):
            values[name] = value.strip()
    return Given(**values)


def _as_fields(given: Given) -> dict[str, Any]:
    return {field.name: getattr(given, field.name) for field in fields(given)}


def _lock(booking: Booking) -> Booking:
    return Booking.objects.select_for_update(of=("self",)).select_related("village").get(pk=booking.pk)


def _about(record: PressDayRecord, machines: Collection[Machine]) -> list[Model]:
    return [record, record.booking, record.booking.village, *machines]


def _note_use(booking: Booking) -> None:
    """What the machines did, by all records of the booking as they stand now; what was expected, where none is left."""
    work = [
        use.Work(
            day=record.day,
            machines=tuple(record.machines.all()),
            kg=record.pressed_kg,
            hours=record.hours or Decimal(0),
            batches=record.batches or 0,
        )
        for record in booking.day_records.prefetch_related("machines").order_by("day")
    ]
    use.note_use(booking_key=booking.pk, work=work, source=UseSource.RECORDED)
    if not work and booking.stage != Stage.OUT:
        bookings.note_expected_use(booking, list(booking.machines.all()))


def _label(name: str) -> str:
    return str(PressDayRecord._meta.get_field(name).verbose_name)  # type: ignore[union-attr]


def _named(machines: Collection[Machine]) -> str:
    return machines_in_words(machines) or _("none")


def figure(value: object) -> str:
    """A figure without a tail of zeros; a dash for none."""
    if value is None or value == "":
        return "–"
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
