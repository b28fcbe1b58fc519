"""What rows can be about at a booking: its pickup, its relay, its return, and a clean-down that is owed."""

from collections.abc import Callable, Iterator
from datetime import date
from functools import partial

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.times import moment_of
from kitshare.bookings.words import test_first_in_words
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome
from kitshare.reminders.ground import Ground, Outing, names, relay_at, whole
from kitshare.reminders.letters import short_day, thread_of
from kitshare.reminders.models import Kind
from kitshare.reminders.occasions import EVER, Occasion, Words
from kitshare.reminders.press_day import to_bring


def pickups(ground: Ground) -> Iterator[Occasion]:
    """The pickup of an agreed booking at the depot."""
    for outing in _collected(ground):
        yield _before_pickup(ground, outing, _("Pickup on %(day)s, %(village)s"), "pickup", _what_is_set_aside)


def things_to_bring(ground: Ground) -> Iterator[Occasion]:
    """The same, with what its press day asks for."""
    for outing in _collected(ground):
        subject = _("Where, when and what to bring: %(village)s, %(day)s")
        yield _before_pickup(ground, outing, subject, "bring", _what_to_bring)


def relays(ground: Ground) -> Iterator[Occasion]:
    """A relay, for each of its two villages: where it hands on, and where it takes on."""
    for outing in ground.outings:
        booking, stood = outing.booking, outing.stood
        for end, since, day in (
            ("relay_from", stood.agreed_at, booking.out_on),
            ("relay_onwards", min(stood.agreed_at, stood.out_at), booking.back_on),
        ):
            relay = relay_at(booking, end, also_done=ground.other_days)
            if relay is None or (end == "relay_from" and not ground.other_days and booking.stage != Stage.AGREED):
                continue
            into = end == "relay_from"
            yield Occasion(
                about=f"{relay.pk}:{day}:{booking.pk}",
                day=day,
                subject=_("Relay on %(day)s, %(village)s") % _named(booking, day),
                template="relay",
                thread=thread_of(booking),
                page=_page(booking),
                booking=booking,
                since=max(since, relay.arranged_at),
                until=min(relay.done_at or EVER, stood.ended_at, ground.midnight_after(day)),
                needed_by=moment_of(day, relay.second.out_time, ground.zone),
                words=partial(
                    _of_relay, ground, booking, relay=relay, other=relay.first if into else relay.second, into=into
                ),
            )


def returns(ground: Ground) -> Iterator[Occasion]:
    """A kit that is out and goes back to the depot."""
    for outing in ground.outings:
        booking, stood = outing.booking, outing.stood
        if relay_at(booking, "relay_onwards", also_done=ground.other_days):
            continue
        out_at = stood.out_at
        if ground.other_days and booking.stage == Stage.AGREED:
            out_at = moment_of(booking.out_on, booking.out_time, ground.zone)  # as it is meant
        yield Occasion(
            about=f"{booking.pk}:{booking.back_on}",
            day=booking.back_on,
            subject=_("Return due on %(day)s, %(village)s") % _named(booking, booking.back_on),
            template="return_due",
            thread=thread_of(booking),
            page=_page(booking),
            booking=booking,
            since=out_at,
            until=min(stood.back_at, stood.ended_at, ground.midnight_after(booking.back_on)),
            needed_by=moment_of(booking.back_on, booking.back_time, ground.zone),
        )


def overdue(ground: Ground) -> Iterator[Occasion]:
    """A kit that is still out, from the end of the day on which it was due back."""
    for outing in ground.outings:
        booking, stood = outing.booking, outing.stood
        if stood.out_at == EVER:
            continue
        onwards = relay_at(booking, "relay_onwards")
        yield Occasion(
            about=f"{booking.pk}:{booking.back_on}",
            day=booking.back_on,
            subject=_("Not back yet: %(village)s, due on %(day)s") % _named(booking, booking.back_on),
            template="return_overdue",
            thread=thread_of(booking),
            page=_page(booking),
            booking=booking,
            since=max(stood.out_at, ground.midnight_after(booking.back_on)),
            until=stood.back_at,
            words=partial(dict, second=onwards.second if onwards else None),
        )


def tests_first(ground: Ground) -> Iterator[Occasion]:
    """Each safety test that comes before an outing, while it is not done."""
    for outing in ground.outings:
        booking = outing.booking
        for plan in ground.tests_before(booking) if booking.is_ahead else ():
            yield Occasion(
                about=f"{booking.pk}:test:{plan.pk}:{plan.due_on}",
                day=booking.out_on,
                subject=_("At risk: %(village)s, %(day)s: a safety test comes first") % _named(booking, booking.out_on),
                template="test_first",
                thread=thread_of(booking),
                page=_page(booking),
                booking=booking,
                words=partial(dict, sentence=test_first_in_words(plan, out_on=booking.out_on, today=ground.today)),
            )


def clean_downs(ground: Ground) -> Iterator[Occasion]:
    """Kits that were handed on before they were cleaned down, until the booking that owes it is closed. One query."""
    first, last = ground.days(Kind.CLEAN_DOWN)
    owed = HandoverCheck.objects.filter(
        kind=CheckKind.RELAY,
        outcome=Outcome.HANDED_OVER,
        is_clean=False,
        from_booking__stage=Stage.BACK,
        done_at__gte=moment_of(first, ground.scheme.out_time, ground.zone),
        done_at__lt=ground.midnight_after(last),
    )
    people = ("from_booking__village", "from_booking__borrower", "booking__village", "booking__borrower")
    machines = owed.select_related(*people).prefetch_related("from_booking__machines__kit__depot")
    for check in machines.order_by("done_at", "pk"):
        booking = check.from_booking
        assert booking is not None  # noqa: S101 - relay_check_names_both
        day = check.done_at.astimezone(ground.zone).date()
        yield Occasion(
            about=f"{booking.pk}:{check.pk}",
            day=day,
            subject=_("Clean-down owed: %(village)s, handed on %(day)s") % _named(booking, day),
            template="clean_down",
            thread=thread_of(booking),
            page=_page(booking),
            booking=booking,
            since=check.known_at,
            words=partial(dict, second=check.booking, day=day),
        )


def _collected(ground: Ground) -> Iterator[Outing]:
    """Bookings that are fetched from the depot."""
    for outing in ground.outings:
        if relay_at(outing.booking, "relay_from", also_done=ground.other_days) is None:
            yield outing


def _before_pickup(
    ground: Ground, outing: Outing, subject: str, template: str, words: Callable[[Ground, Booking], Words]
) -> Occasion:
    """From the agreeing until it goes out: on the day itself too, if no round ran before or it was agreed so late."""
    booking, stood = outing.booking, outing.stood
    return Occasion(
        about=f"{booking.pk}:{booking.out_on}",
        day=booking.out_on,
        subject=subject % _named(booking, booking.out_on),
        template=template,
        thread=thread_of(booking),
        page=_page(booking),
        booking=booking,
        since=stood.agreed_at if ground.other_days or booking.stage == Stage.AGREED else EVER,
        until=min(stood.out_at, stood.ended_at, ground.midnight_after(booking.out_on)),
        needed_by=moment_of(booking.out_on, booking.out_time, ground.zone),
        words=partial(words, ground, booking),
    )


def _what_is_set_aside(ground: Ground, booking: Booking) -> Words:
    stopped = [fault.machine.name for fault in ground.faults_of(booking)]
    return {"stopped": names([*stopped, *(plan.machine.name for plan in ground.tests_before(booking))])}


def _what_to_bring(ground: Ground, booking: Booking) -> Words:
    return {**_what_is_set_aside(ground, booking), **to_bring(booking, scheme=ground.scheme)}


def _of_relay(ground: Ground, booking: Booking, *, relay: Relay, other: Booking, into: bool) -> Words:
    stopped = names(fault.machine.name for fault in ground.faults_of(booking))
    return {"relay": whole(relay, booking), "other": other, "hands_over": not into, "stopped": stopped}


def _named(booking: Booking, day: date) -> dict[str, str]:
    return {"day": short_day(day), "village": booking.village.name}


def _page(booking: Booking) -> str:
    return reverse("bookings:show", args=[booking.pk])
