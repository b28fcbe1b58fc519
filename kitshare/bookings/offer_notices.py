"""What people are told about the waiting list, queued in the same transaction as the change.

The links lead to pages that only show: whatever fetches the links of a letter by itself answers no offer.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils import dateformat
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.bookings.invitations import thread_of
from kitshare.bookings.models import Booking
from kitshare.bookings.waiting_models import Offer
from kitshare.bookings.words import day_at, day_in_words, days_in_words, machines_in_words
from kitshare.outbox import actions as outbox
from kitshare.outbox.speaking import Said, in_each_language
from kitshare.people.models import Member, Scheme

ANSWER_WORDS: Final = gettext_lazy("Look at it and answer here:")
PAGE_WORDS: Final = gettext_lazy("The booking's page:")


def until_in_words(moment: datetime, scheme: Scheme | None) -> str:
    """A moment in the scheme's own time, such as "Thu 9 Sep, 14:05"."""
    local = moment.astimezone(scheme.zone if scheme else moment.tzinfo)
    return _("%(day)s, %(time)s") % {"day": day_in_words(local.date()), "time": dateformat.format(local, "H:i")}


@in_each_language
def waits(*, booking: Booking, by: Member, at: datetime) -> None:
    """Tell the borrower that somebody put them on the list; whoever did it themselves knows."""
    subject = _("On the waiting list: %(village)s from %(out)s") % _words(booking)
    lines = [
        _("%(who)s put %(village)s on the waiting list.") % (_words(booking) | {"who": by.name}),
        _("When the days are freed and it is your turn, they are kept for you for some hours and you are told."),
    ]
    _tell("waiting", subject, lines, booking=booking, to=[booking.borrower], by=by, at=at)


@in_each_language
def offered(*, offer: Offer, booking: Booking, at: datetime) -> None:
    """Tell the borrower what is offered, and until when they can answer."""
    until = until_in_words(offer.until, Scheme.objects.current())
    subject = _("Free now for %(village)s: %(days)s. Answer by %(until)s") % (_words(booking, offer) | {"until": until})
    lines = [
        _("The days that %(village)s waits for are free, and you are the first to be asked.") % _words(booking, offer),
        _("They are kept for you until %(until)s. Accept them or pass, please: others wait too.") % {"until": until},
        _("Without e-mail or internet, telephone the coordinator: they can answer for you."),
    ]
    _tell("offer-made", subject, lines, booking=booking, to=[booking.borrower], by=None, at=at, offer=offer)


@in_each_language
def accepted(*, offer: Offer, booking: Booking, by: Member, at: datetime) -> None:
    """Tell the coordinators that there is a booking to agree, and the borrower if somebody accepted for them."""
    subject = _("Accepted from the waiting list: %(village)s from %(out)s") % _words(booking, offer)
    lines = [
        _("%(who)s accepted the days offered to %(village)s.") % (_words(booking, offer) | {"who": by.name}),
        _("It is a booking like any other now: a coordinator agrees or declines it. Until then the days are held."),
    ]
    to = [*Member.objects.coordinating(), booking.borrower]
    _tell("offer-accepted", subject, lines, booking=booking, to=to, by=by, at=at, offer=offer, answer=False)


@in_each_language
def passed(*, offer: Offer, booking: Booking, by: Member, at: datetime) -> None:
    """Tell the borrower that somebody passed for them."""
    subject = _("Passed on: %(village)s, %(days)s") % _words(booking, offer)
    first = _("%(who)s passed on the days offered to %(village)s.") % (_words(booking, offer) | {"who": by.name})
    _tell_of_end("offer-passed", subject, first, offer=offer, booking=booking, by=by, at=at)


@in_each_language
def lapsed(*, offer: Offer, booking: Booking, at: datetime) -> None:
    subject = _("The offer ran out: %(village)s, %(days)s") % _words(booking, offer)
    first = _("Nobody answered for %(village)s in time, so the days go on to the next who wait.") % _words(
        booking, offer
    )
    _tell_of_end("offer-lapsed", subject, first, offer=offer, booking=booking, by=None, at=at)


def _tell_of_end(
    word: str, subject: str, first: str, *, offer: Offer, booking: Booking, by: Member | None, at: datetime
) -> None:
    then = _(
        "You stay on the waiting list, and are asked again if the days are taken and freed once more. "
        "As long as nobody has taken them you can still book them."
    )
    _tell(word, subject, [first, then], booking=booking, to=[booking.borrower], by=by, at=at, offer=offer, answer=False)


@in_each_language
def withdrawn(*, offer: Offer, booking: Booking, why: Said, by: Member | None, at: datetime) -> None:
    """Tell the borrower why the days are no longer kept for them."""
    subject = _("No longer offered: %(village)s, %(days)s") % _words(booking, offer)
    first = _("The days offered to %(village)s are no longer kept. The reason: %(reason)s")
    lines = [
        first % (_words(booking, offer) | {"reason": why()[:300]}),
        _("You stay on the waiting list, in your place."),
    ]
    to = [booking.borrower]
    _tell("offer-withdrawn", subject, lines, booking=booking, to=to, by=by, at=at, offer=offer, answer=False)


@in_each_language
def left(*, booking: Booking, by: Member | None, at: datetime) -> None:
    """Tell the borrower that they are off the list, if it was not they who left."""
    subject = _("Off the waiting list: %(village)s from %(out)s") % _words(booking)
    first = _("%(village)s is no longer on the waiting list for these days.") % _words(booking)
    lines = [first, *([_("The reason: %(reason)s") % {"reason": booking.reason}] if booking.reason else [])]
    _tell("waiting-left", subject, lines, booking=booking, to=[booking.borrower], by=by, at=at)


def _words(booking: Booking, offer: Offer | None = None) -> dict[str, str]:
    """The days are those that were offered: those of the booking may be others again."""
    period = offer.period if offer else booking.period
    return {
        "village": booking.village.name,
        "out": day_in_words(period.start),
        "out_at": day_at(period.start, booking.out_time),
        "back_at": day_at(period.end, booking.back_time),
        "days": days_in_words(period),
    }


def _tell(
    word: str,
    subject: str,
    lines: list[str],
    *,
    booking: Booking,
    to: Iterable[Member],
    by: Member | None,
    at: datetime,
    offer: Offer | None = None,
    answer: bool = True,
) -> None:
    """One message to each, but none to whoever did it. Each offer and each change is told once, whoever asks."""
    facts = [
        _("Machines: %(machines)s.") % {"machines": machines_in_words(booking.machines.order_by("pk"))},
        _("Collected on %(out_at)s, back by %(back_at)s.") % _words(booking, offer),
    ]
    asks = offer is not None and answer
    path = reverse("waiting:offer", args=[offer.pk]) if offer and asks else reverse("bookings:show", args=[booking.pk])
    page = f"{ANSWER_WORDS if asks else PAGE_WORDS} {settings.SITE_ADDRESS.rstrip('/')}{path}"
    about = offer.pk if offer else f"{booking.pk}:{booking.revision}"
    for member in {one.pk: one for one in to if by is None or one.pk != by.pk}.values():
        outbox.queue(
            key=f"{word}:{about}:{member.pk}",
            to=member,
            subject=subject,
            body="\n\n".join([lines[0], *facts, *lines[1:], page]),
            at=at,
            thread=thread_of(booking),
            needed_by=offer.until if offer and asks else None,
        )
