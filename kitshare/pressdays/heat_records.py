"""Adding heat records: one for each batch, and another in its place where it was wrong."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Stage
from kitshare.engine import deed
from kitshare.kits.models import Machine, MachineKind, Part
from kitshare.kits.sharing import parts_for
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member, Scheme
from kitshare.pressdays import heat_keeping as keeping
from kitshare.pressdays import heat_refusals as refusals
from kitshare.pressdays.heat_judging import Judged
from kitshare.pressdays.heat_models import (
    MOST_BATCHES,
    MOST_BOTTLES,
    MOST_LITRES,
    Came,
    HeatReadings,
    HeatRecord,
)
from kitshare.rules import batch_codes
from kitshare.rules.heat_verdict import Verdict
from kitshare.rules.servicing import months_later

# A village may type its log in before anybody has signed the pickup; afterwards it may be added for good.
HEATED = (Stage.AGREED, Stage.OUT, Stage.BACK, Stage.CLOSED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What people say of a batch. `number` is taken from the older record where this one replaces it."""

    number: int
    pasteuriser: Machine | None
    probe: Part | None
    ph: Decimal | None
    bottles: int
    container: str
    litres: Decimal
    filled_on: date
    note: str = ""


def check_can_record(*, booking: Booking, by: Member) -> None:
    """Raise HeatRefused unless this member may add a heat record to this booking."""
    if not by.acts_for(booking.village):
        raise refusals.NotTheirsToRecord(booking)
    if booking.stage not in HEATED:
        raise refusals.NothingHeatedYet(booking)


def why_not_record(*, booking: Booking, by: Member) -> str:
    """Why this member may not add a heat record; empty when they may."""
    try:
        check_can_record(booking=booking, by=by)
    except refusals.HeatRefused as refused:
        return str(refused)
    return ""


def next_number(booking: Booking) -> int:
    """The number that the next batch of a booking has."""
    last = HeatRecord.objects.filter(booking=booking, replaces=None).order_by("-number").first()
    return last.number + 1 if last else 1


def machines_of(booking: Booking) -> list[Machine]:
    """The pasteurisers of a booking, in packing order."""
    pasteurisers = booking.machines.filter(kind=MachineKind.PASTEURISER)
    return list(pasteurisers.select_related("kit").order_by("kit__name", "position", "pk"))


def probes_of(booking: Booking) -> list[Part]:
    """The parts that travelled with the pasteurisers of a booking, those they share among them: one is the probe."""
    return list(parts_for(machines_of(booking)))


@deed
def record_heat(
    *,
    booking: Booking,
    batch: Batch,
    judged: Judged,
    came: Came,
    by: Member,
    at: datetime,
    today: date,
    file_name: str = "",
    key: uuid.UUID | None = None,
    replaces: HeatRecord | None = None,
    why_replaced: str = "",
) -> HeatRecord:
    """Keep a batch's log with its verdict, and give the batch a code. Sent twice under one key, it is one record.

    In place of an older record it keeps that one's number and code, since its bottles bear it.
    """
    booking = Booking.objects.select_for_update(of=("self",)).select_related("village").get(pk=booking.pk)
    recorded_before = HeatRecord.objects.filter(key=key).first() if key else None
    if recorded_before is not None:
        return recorded_before
    check_can_record(booking=booking, by=by)
    _check_batch(booking, batch, today)
    why_replaced = why_replaced.strip()
    if replaces is not None:
        _check_replaces(booking, replaces, why_replaced)
    record = _record(booking, batch, judged)
    record.key = key or uuid.uuid4()
    record.came, record.file_name, record.by, record.at = came, file_name[:200], by, at
    if replaces is None:
        _check_number(booking, batch.number)
        record.number, record.code = batch.number, _free_code(record.key)
    else:
        record.number, record.code = replaces.number, replaces.code
        record.replaces, record.why_replaced = replaces, why_replaced
    _save(record)
    HeatReadings(record=record, count=len(judged.read.log.minutes), packed=keeping.pack(judged.read.log)).save()
    _write(record, booking, by=by, at=at)
    return record


def _record(booking: Booking, batch: Batch, judged: Judged) -> HeatRecord:
    verdict = judged.verdict
    held = verdict.verdict == Verdict.HELD
    scheme = Scheme.objects.current() or Scheme()
    return HeatRecord(
        booking=booking,
        pasteuriser=batch.pasteuriser,
        probe=batch.probe,
        probe_check=judged.check,
        gain=judged.correction.gain,
        offset_c=judged.correction.offset_c,
        found=keeping.found_as_plain(judged.read.found),
        target_c=Decimal(str(verdict.recommendation.target_c)),
        hold_minutes=Decimal(str(verdict.recommendation.hold_minutes)),
        recommended_by=verdict.recommendation.source[:200],
        longest_gap_minutes=Decimal(str(judged.longest_gap_minutes)),
        ph=batch.ph,
        verdict=verdict.verdict.value,
        told=keeping.verdict_as_plain(verdict),
        curve={
            "points": keeping.points_as_plain(judged.curve.points),
            "gaps": keeping.points_as_plain(judged.curve.gaps),
        },
        bottles=batch.bottles,
        container=batch.container.strip(),
        litres=batch.litres,
        filled_on=batch.filled_on,
        best_before=months_later(batch.filled_on, scheme.best_before_months) if held else None,
        note=batch.note.strip(),
    )


def _check_batch(booking: Booking, batch: Batch, today: date) -> None:
    if not 1 <= batch.number <= MOST_BATCHES:
        raise refusals.NumberNotSensible
    if not booking.out_on <= batch.filled_on <= today:
        raise refusals.FilledOutside(booking, today)
    if not 1 <= batch.bottles <= MOST_BOTTLES:
        raise refusals.BottlesNotSensible
    if not (batch.litres.is_finite() and 0 < batch.litres <= MOST_LITRES):
        raise refusals.LitresNotSensible
    if not batch.container.strip():
        raise refusals.ContainerNotSaid
    if batch.ph is not None and not 0 <= batch.ph <= 14:
        raise refusals.AcidityNotSensible
    if batch.pasteuriser and not booking.machines.filter(pk=batch.pasteuriser.pk).exists():
        raise refusals.NotWithThisBooking("pasteuriser")
    if batch.probe and not parts_for(booking.machines.all()).filter(pk=batch.probe.pk).exists():
        raise refusals.NotWithThisBooking("probe")


def _check_replaces(booking: Booking, replaces: HeatRecord, why_replaced: str) -> None:
    if not why_replaced:
        raise refusals.WhyNotSaid
    if replaces.booking_id != booking.pk or HeatRecord.objects.filter(replaces=replaces).exists():
        raise refusals.ReplacedAlready(replaces)


def _check_number(booking: Booking, number: int) -> None:
    taken = HeatRecord.objects.filter(booking=booking, number=number, replaces=None).first()
    if taken is not None:
        raise refusals.BatchNumberTaken(taken, next_number(booking))


def _free_code(key: uuid.UUID) -> str:
    """A code that no batch has, begun from the record's key: the same record tried again gets the same."""
    number = key.int
    while HeatRecord.objects.filter(code=batch_codes.code_of(number)).exists():
        number += 1
    return batch_codes.code_of(number)


def _save(record: HeatRecord) -> None:
    try:
        with transaction.atomic():
            record.save()
    except IntegrityError:
        # Another village's batch took the code between the look and the save: the next one is free.
        if record.replaces is not None:
            raise
        record.code = _free_code(record.key)
        record.save()


def _write(record: HeatRecord, booking: Booking, *, by: Member, at: datetime) -> None:
    words = {
        "number": record.number,
        "code": record.shown_code,
        "bottles": record.bottles,
        "container": record.container,
        "verdict": record.get_verdict_display(),
        "why": record.why_replaced,
    }
    text = _("Recorded the heat of batch %(number)s, %(code)s (%(bottles)s × %(container)s): %(verdict)s.") % words
    if record.replaces is not None:
        text += " " + _("It replaces an older record: %(why)s") % words
    about = [booking, booking.village, *([record.pasteuriser] if record.pasteuriser else [])]
    logbook.write(deed="heat_recorded", text=text, about=about, by=by, at=at)
