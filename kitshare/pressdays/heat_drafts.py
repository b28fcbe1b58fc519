"""Logs between sending and saving: what was typed, pasted or uploaded is kept a week, so that no refusal loses it."""

import zlib
from datetime import datetime

from kitshare.bookings.models import Booking
from kitshare.engine import deed
from kitshare.people.models import Member
from kitshare.pressdays.heat_models import Came, HeatDraft, HeatRecord
from kitshare.pressdays.heat_records import check_can_record
from kitshare.rules.readings import ReadLog, TemperatureUnit, TimeForm, read_log


def packed(data: bytes) -> bytes:
    """The text deflated, before anything waits for it: a log of 200,000 lines takes a tenth of a second."""
    return zlib.compress(data, 1)


@deed
def keep(
    *,
    booking: Booking,
    came: Came,
    packed: bytes,
    by: Member,
    at: datetime,
    file_name: str = "",
    replaces: HeatRecord | None = None,
) -> HeatDraft:
    """Keep a text for the look at it. Nothing is recorded yet."""
    check_can_record(booking=booking, by=by)
    draft = HeatDraft(
        owner=by,
        booking=booking,
        replaces=replaces,
        came=came,
        file_name=file_name[:200],
        packed=packed,
        kept_at=at,
    )
    draft.save(force_insert=True)
    return draft


def read(
    draft: HeatDraft,
    *,
    unit: TemperatureUnit | None = None,
    time_form: TimeForm | None = None,
    column: int | None = None,
) -> ReadLog:
    """The log of a draft, read with a person's answers. Raises LogRefused."""
    return read_log(zlib.decompress(draft.packed), unit=unit, time_form=time_form, column=column)


@deed
def throw_away(*, draft: HeatDraft, by: Member) -> None:
    """Forget a log that was only looked at."""
    HeatDraft.objects.of(by).filter(pk=draft.pk).delete()


def sweep(*, at: datetime) -> int:
    """Forget what was kept a week ago; records stay. How many that were.

    Asked every minute: where there is nothing to forget, no writer is kept waiting.
    """
    return _forget(at=at) if HeatDraft.objects.kept_too_long(at).exists() else 0


@deed
def _forget(*, at: datetime) -> int:
    count, _by_model = HeatDraft.objects.kept_too_long(at).delete()
    return count
