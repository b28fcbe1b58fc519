"""What people are told when a booking changes, queued in the same transaction as the change."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.bookings import invitations
from kitshare.bookings.models import Booking
from kitshare.bookings.words import day_at, day_in_words, machines_in_words
from kitshare.kits.models import Machine
from kitshare.outbox import actions as outbox
from kitshare.outbox.speaking import Lines, in_each_language
from kitshare.people.models import Member

PAGE_WORDS: Final = gettext_lazy("The booking's page:")
# What a village waits for: none of it is kept back for a digest.
ANSWERS: Final = frozenset({"agreed", "declined", "lapsed"})
CALENDAR_WORDS: Final[Mapping[str, Promise]] = {
    invitations.REQUEST: gettext_lazy("Open the attached file to put these days into your calendar."),
    invitations.CANCEL: gettext_lazy("Open the attached file to strike these days from your calendar."),
}


@in_each_language
def asked(*, booking: Booking, machines: Sequence[Machine], by: Member, at: datetime) -> None:
    """Tell the coordinators that a village waits for an answer, and the borrower if somebody else asked for them."""
    subject = _("%(village)s asks for machines from %(day)s") % _words(booking)
    first = _("%(who)s asked on behalf of %(village)s.") % (_words(booking) | {"who": by.name})
    then = _("A coordinator agrees or declines it on its page. Until then the days are held.")
    _tell("asked", subject, [first, then], booking=booking, machines=machines, to=_both(booking), by=by, at=at)


@in_each_language
def agreed(*, booking: Booking, machines: Sequence[Machine], by: Member, at: datetime) -> None:
    subject = _("Agreed: %(village)s from %(day)s") % _words(booking)
    first = _("%(who)s agreed the booking of %(village)s.") % (_words(booking) | {"who": by.name})
    then = _("On %(out_at)s do the pickup check at the depot, with somebody to help with the lifting.") % _words(
        booking
    )
    _tell("agreed", subject, [first, then], booking=booking, machines=machines, to=[booking.borrower], by=by, at=at)


@in_each_language
def declined(*, booking: Booking, machines: Sequence[Machine], by: Member, at: datetime) -> None:
    subject = _("Declined: %(village)s from %(day)s") % _words(booking)
    words = _words(booking) | {"who": by.name}
    first = _("%(who)s declined the booking of %(village)s. The reason: %(reason)s") % words
    then = _("The days are free again. You can ask for other days or other machines.")
    _tell("declined", subject, [first, then], booking=booking, machines=machines, to=[booking.borrower], by=by, at=at)


@in_each_language
def lapsed(*, booking: Booking, machines: Sequence[Machine], at: datetime) -> None:
    """The site itself ended what nobody answered: the village hears it, and those who should have answered."""
    subject = _("Ended without an answer: %(village)s from %(day)s") % _words(booking)
    words = _words(booking)
    first = _("Nobody answered the booking of %(village)s before its days were over, so it was ended.") % words
    then = _("We are sorry. Telephone the coordinator, or ask for other days.")
    _tell("lapsed", subject, [first, then], booking=booking, machines=machines, to=_both(booking), by=None, at=at)


@in_each_language
def changed(*, booking: Booking, machines: Sequence[Machine], changes: Lines, by: Member, at: datetime) -> None:
    subject = _("Changed: %(village)s from %(day)s") % _words(booking)
    first = _("%(who)s changed the booking of %(village)s.") % (_words(booking) | {"who": by.name})
    then = _("It is %(stage)s now. Look at its page, and telephone if it does not suit.") % _words(booking)
    lines = [first, *changes(), then]
    _tell("changed", subject, lines, booking=booking, machines=machines, to=_concerned(booking, by), by=by, at=at)


def told_of_other_days(*, booking: Booking, by: Member) -> list[Member]:
    """Whom `changed` will tell when a booking gets other days: for a page that says so beforehand."""
    told = [member for member in _concerned(booking, by) if member.pk != by.pk]
    if booking.borrower.pk == by.pk and invitations.last_sent(booking):
        told.append(booking.borrower)  # their calendar is sent the new days
    return list({member.pk: member for member in told}.values())


@in_each_language
def called_off(*, booking: Booking, machines: Sequence[Machine], by: Member, at: datetime) -> None:
    subject = _("Called off: %(village)s from %(day)s") % _words(booking)
    words = _words(booking) | {"who": by.name}
    first = _("%(who)s called off the booking of %(village)s.") % words
    if booking.reason:
        first = _("%(who)s called off the booking of %(village)s. The reason: %(reason)s") % words
    then = _("The days are free again for other villages.")
    to = _concerned(booking, by)
    _tell("called-off", subject, [first, then], booking=booking, machines=machines, to=to, by=by, at=at)


@in_each_language
def about_relay(
    *, event: str, lines: Lines, booking: Booking, machines: Sequence[Machine], by: Member, at: datetime
) -> None:
    subject = _("Relay of %(village)s: look at it again") % _words(booking)
    if event != "relay-undone":
        subject = _("Relay for %(village)s, %(out_at)s to %(back_at)s") % _words(booking)
    to = _concerned(booking, by)
    _tell(event, subject, [*lines()], booking=booking, machines=machines, to=to, by=by, at=at)


@in_each_language
def signed_over(*, booking: Booking, machines: Sequence[Machine], before: Member, by: Member, at: datetime) -> None:
    """Tell the one who signs now, whose calendar gets it, and the one who signed before."""
    words = _words(booking) | {"who": by.name, "now": booking.borrower.name, "before": before.name}
    subject = _("Who signs: %(village)s from %(day)s") % words
    first = _("%(now)s signs for the booking of %(village)s from now on, instead of %(before)s: %(who)s chose so.")
    then = _("It is %(stage)s. Whoever has it in a calendar of their own and does not sign now strikes it there.")
    to = [booking.borrower, before, *([] if by.coordinates else Member.objects.coordinating())]
    lines = [first % words, then % words]
    _tell("signed-over", subject, lines, booking=booking, machines=machines, to=to, by=by, at=at)


def _words(booking: Booking) -> dict[str, str]:
    return {
        "village": booking.village.name,
        "day": day_in_words(booking.out_on),
        "out_at": day_at(booking.out_on, booking.out_time),
        "back_at": day_at(booking.back_on, booking.back_time),
        "stage": str(booking.get_stage_display()),
        "reason": booking.reason,
    }


def _both(booking: Booking) -> list[Member]:
    return [*Member.objects.coordinating(), booking.borrower]


def _concerned(booking: Booking, by: Member) -> list[Member]:
    """The borrower; and the coordinators too, when it was not one of them who did it."""
    return [booking.borrower] if by.coordinates else _both(booking)


@dataclass(frozen=True, slots=True)
class Letter:
    """The words of one message."""

    subject: str
    lines: list[str]
    page: str

    def as_text(self) -> str:
        return "\n\n".join([*self.lines, f"{PAGE_WORDS} {self.page}"])


def _tell(
    event: str,
    subject: str,
    lines: list[str],
    *,
    booking: Booking,
    machines: Sequence[Machine],
    to: Iterable[Member],
    by: Member | None,
    at: datetime,
) -> None:
    """One message to each, but none to whoever did it. The revision in the key keeps each event told once.

    The borrower's takes a calendar message along; and where that says something new it goes to them even if they did
    it themselves, or their calendar would not follow.
    """
    facts = [
        _("Machines: %(machines)s.") % {"machines": machines_in_words(machines)},
        _("Collect on %(out_at)s, back on %(back_at)s.") % _words(booking),
    ]
    page = settings.SITE_ADDRESS.rstrip("/") + reverse("bookings:show", args=[booking.pk])
    letter = Letter(subject, [lines[0], *facts, *lines[1:]], page)
    before = invitations.last_sent(booking)
    method = invitations.method_for(booking, before=before)
    told = {member.pk: member for member in to if by is None or member.pk != by.pk}
    if method and invitations.moves(booking, before=before):
        told[booking.borrower.pk] = booking.borrower
    for member in told.values():
        words, calendar = letter, ""
        if method and member.pk == booking.borrower.pk:
            words = replace(letter, lines=[*letter.lines, str(CALENDAR_WORDS[method])])
            calendar = invitations.write(booking=booking, machines=machines, method=method, at=at)
        outbox.queue(
            key=f"booking-{event}:{booking.pk}:{booking.revision}:{member.pk}",
            to=member,
            subject=subject,
            body=words.as_text(),
            calendar=calendar,
            at=at,
            thread=invitations.thread_of(booking),
            alone=event in ANSWERS,
        )
