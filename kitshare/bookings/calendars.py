"""Bookings as iCalendar text (RFC 5545), for the calendars that people have already."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Final

from django.conf import settings
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from kitshare.bookings.models import Booking, BookingQuerySet, Stage

# A calendar that fetches now and then must still meet the cancellation of what it shows.
CANCELLED_SHOWN_FOR: Final = timedelta(days=14)
LOOKS_BACK: Final = timedelta(days=400)
SHOWN: Final = (Stage.AGREED, Stage.OUT, Stage.BACK, Stage.CLOSED)


def bookings_for_a_feed(bookings: BookingQuerySet, *, at: datetime) -> BookingQuerySet:
    """What a feed holds: agreed bookings of the last 400 days and all to come; called-off ones for fourteen days."""
    called_off = Q(stage=Stage.CALLED_OFF, ended_at__gte=at - CANCELLED_SHOWN_FOR)
    return (
        bookings.filter(Q(stage__in=SHOWN) | called_off)
        .filter(back_on__gte=at.date() - LOOKS_BACK)
        .with_people()
        .order_by("out_on", "pk")
    )


def feed(bookings: Iterable[Booking], *, name: str) -> bytes:
    """A whole calendar. The same rows give the same bytes: stamps are the rows' own, never the clock's."""
    calendar = Calendar()
    calendar.add("prodid", "-//Kitshare//Bookings//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    # Commas, semicolons and backslashes come out raw in this one, so they are kept out of it.
    calendar.add("x-wr-calname", "".join(" " if sign in ",;\\" else sign for sign in name))
    for booking in bookings:
        calendar.add_component(event(booking))
    return bytes(calendar.to_ical())


def event(booking: Booking) -> Event:
    """One booking as whole days. DTEND is exclusive, as `back_on` is: the machines are back that morning."""
    entry = Event()
    entry.add("uid", f"{booking.uid}@kitshare")
    entry.add("dtstamp", booking.changed_at)
    entry.add("last-modified", booking.changed_at)
    entry.add("sequence", booking.sequence)
    entry.add("dtstart", _whole_day(booking.out_on))
    entry.add("dtend", _whole_day(booking.back_on))
    entry.add("summary", f"{booking.village.name}: {_kits(booking)}")
    entry.add("description", _description(booking))
    entry.add("status", "CANCELLED" if booking.stage == Stage.CALLED_OFF else "CONFIRMED")
    entry.add("transp", "TRANSPARENT")
    entry.add("url", f"{settings.SITE_ADDRESS}{reverse('bookings:show', args=[booking.pk])}")
    return entry


def _whole_day(value: date) -> date:
    if isinstance(value, datetime):
        raise TypeError("A booking's days are days, not moments.")
    return value


def _kits(booking: Booking) -> str:
    names = {machine.kit_id: machine.kit.name for machine in booking.machines.all()}
    return ", ".join(names[key] for key in sorted(names))


def _description(booking: Booking) -> str:
    """No telephone number, no gate code: a feed travels further than its owner thinks."""
    machines = ", ".join(machine.name for machine in booking.machines.all())
    return _("Machines: %(machines)s.") % {"machines": machines}
