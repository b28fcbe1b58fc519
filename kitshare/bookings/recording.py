"""What every deed on a booking is made of: taking it in hand, moving it on, and writing down what was done."""

from collections.abc import Sequence
from datetime import datetime

from kitshare.bookings import days
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.refusals import ChangedMeanwhile
from kitshare.bookings.words import day_in_words, days_in_words, machines_in_words
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.logbook.models import Entry
from kitshare.people.models import Member


def check_revision(*, booking: Booking, revision: int) -> None:
    """Raise ChangedMeanwhile, with what was done since, when another revision was looked at."""
    if revision == booking.revision:
        return
    lines = Entry.objects.about(booking).filter(deed__startswith="booking_")
    newest_first = [entry.text for entry in lines[: max(booking.revision - revision, 0)]]
    raise ChangedMeanwhile(changes=newest_first[::-1], revision=booking.revision)


def lock(booking: Booking, revision: int | None = None, also: Sequence[Machine] = ()) -> tuple[Booking, list[Machine]]:
    """The booking as it stands now with its machines, nobody else's until this transaction ends.

    Raises ChangedMeanwhile when it is not the revision that was looked at.
    """
    keys = set(booking.machines.values_list("pk", flat=True))
    locked = days.lock_machines(keys | {machine.pk for machine in also})
    current = Booking.objects.select_related("village", "borrower").select_for_update(of=("self",)).get(pk=booking.pk)
    if revision is not None:
        check_revision(booking=current, revision=revision)
    own = set(current.machines.values_list("pk", flat=True))
    if came_meanwhile := own - {machine.pk for machine in locked}:  # it was changed while we waited for the locks
        locked = sorted([*locked, *days.lock_machines(came_meanwhile)], key=lambda machine: machine.pk)
    return current, [machine for machine in locked if machine.pk in own]


def move_to(stage: Stage, *, booking: Booking, at: datetime) -> None:
    booking.stage = stage
    booking.sequence += 1
    save(booking, at=at)


def end(stage: Stage, *, booking: Booking, reason: str, at: datetime) -> None:
    days.set_free(booking)
    booking.reason = reason.strip()
    booking.ended_at = at
    move_to(stage, booking=booking, at=at)


def save(booking: Booking, *, at: datetime) -> None:
    booking.revision += 1
    booking.changed_at = at
    booking.save()


def record(
    word: str,
    text: str,
    *,
    booking: Booking,
    machines: Sequence[Machine],
    by: Member | None,
    at: datetime,
    changes: str = "",
) -> None:
    words = {
        "who": by.name if by else "",
        "village": booking.village.name,
        "machines": machines_in_words(machines),
        "days": days_in_words(booking.period),
        "back": day_in_words(booking.back_on),
        "reason": booking.reason,
        "changes": changes,
    }
    kits = {machine.kit_id: machine.kit for machine in machines}
    about = [booking, booking.village, *machines, *kits.values()]
    logbook.write(deed=word, text=(text % words).strip(), about=about, by=by, at=at)
