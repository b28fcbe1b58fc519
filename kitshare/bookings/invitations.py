"""Calendar messages about one booking (RFC 5546, by mail as RFC 6047 has it), so that the borrower's calendar follows.

The scheme asks and the borrower is asked. A later message has the same UID and a higher SEQUENCE, and what changes only
in words the same one with a later stamp. No answer is expected: nobody reads what calendars send back.
"""

from collections.abc import Sequence
from datetime import datetime
from email.utils import parseaddr
from typing import Final
from urllib.parse import quote

from django.conf import settings
from icalendar import vCalAddress

from kitshare.bookings import calendars
from kitshare.bookings.models import Booking, Stage
from kitshare.kits.models import Machine
from kitshare.outbox.models import Message
from kitshare.people.models import Member, Scheme

REQUEST: Final = "REQUEST"
CANCEL: Final = "CANCEL"
ENDED: Final = (Stage.DECLINED, Stage.CALLED_OFF)


def thread_of(booking: Booking) -> str:
    """The thread in which everything about a booking is told."""
    return f"booking:{booking.pk}"


def last_sent(booking: Booking) -> str:
    """The calendar message that the borrower was last sent about a booking; nothing when there was none."""
    sent: str | None = Message.objects.calendars(thread=thread_of(booking), member_key=booking.borrower.pk).first()
    return sent or ""


def method_for(booking: Booking, *, before: str) -> str | None:
    """What the borrower's calendar needs to be told; nothing where it never heard of the booking and need not."""
    if not booking.borrower.email:
        return None
    if booking.stage in {Stage.AGREED, Stage.OUT}:
        return REQUEST
    if not before:
        return None
    # Moved by its borrower, an agreed booking waits again: it moves in their calendar too, marked as tentative.
    return CANCEL if booking.stage in ENDED else REQUEST


def moves(booking: Booking, *, before: str) -> bool:
    """Whether the borrower's calendar shows something else than what is so now."""
    return f"SEQUENCE:{booking.sequence}\r\n" not in before


def write(*, booking: Booking, machines: Sequence[Machine], method: str, at: datetime) -> str:
    """The message as text. The machines are named in packing order, as in a feed."""
    in_order = sorted(machines, key=lambda one: (one.kit.name, one.kit_id, one.position, one.pk))
    entry = calendars.event(booking, in_order, stamp=at)
    address = parseaddr(settings.DEFAULT_FROM_EMAIL)[1]
    scheme = Scheme.objects.current()
    entry.add("organizer", _person(scheme.name if scheme else address, address))
    entry.add("attendee", _guest(booking.borrower))
    calendar = calendars.new_calendar()
    calendar.add("method", method)
    calendar.add_component(entry)
    return bytes(calendar.to_ical()).decode()


def _guest(member: Member) -> vCalAddress:
    guest = _person(member.name, member.email or "")
    guest.params |= {
        "CUTYPE": "INDIVIDUAL",
        "ROLE": "REQ-PARTICIPANT",
        "PARTSTAT": "NEEDS-ACTION",
        "RSVP": "FALSE",
    }
    return guest


def _person(name: str, address: str) -> vCalAddress:
    """Somebody by address. A quotation mark cannot stand in a parameter (RFC 5545, 3.2), nor is it part of a name."""
    person = vCalAddress("mailto:" + quote(address, safe="@+!$*'-._~"))
    person.params["CN"] = calendars.one_line(name).replace('"', "").replace("^", "")
    return person
