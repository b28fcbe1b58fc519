"""Bookings as iCalendar text (RFC 5545, with the calendar's own properties of RFC 7986).

icalendar writes and folds the lines. What it lets through and should not is refused or mended here: moments without a
zone, colours by number, control characters, a backslash before a capital N (which it takes for the end of a line), and
properties that need their VALUE said.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vDuration, vText, vUri

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.relay_words import in_short
from kitshare.bookings.times import moment_of
from kitshare.bookings.words import day_at
from kitshare.kits.models import KitShape, Machine

PRODUCT: Final = "-//Kitshare//Bookings//EN"
# How often a calendar program need ask; most answers are "not modified".
ASK_AGAIN_AFTER: Final = timedelta(hours=2)

# How long a calendar shows people as busy when a kit changes hands.
HANDOVER_LASTS: Final = timedelta(minutes=30)

# Colours by their CSS names, the only form that RFC 7986 (5.9) knows.
SCHEME_COLOUR: Final = "seagreen"
KIT_COLOURS: Final[Mapping[str, str]] = {
    KitShape.SQUARE: "crimson",
    KitShape.ROUND: "purple",
    KitShape.WEDGE: "teal",
    KitShape.BAR: "sienna",
}

# What Unicode counts as the end of a line; some readers break lines there, whatever the RFC says.
LINE_ENDS: Final = re.compile("\r\n|[\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029]")
# RFC 5545 (3.3.11) allows no other control character than the tab in text; lone surrogates are no text at all, and some
# readers lose a byte order mark, which nobody sees.
NO_TEXT: Final = re.compile("[\x00-\x08\x0e-\x1b\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufeff]")


ESCAPES: Final = str.maketrans({"\\": "\\\\", ",": "\\,", ";": "\\;", "\n": "\\n"})


def plain(text: str) -> str:
    """Text of several lines, without what has no place in a calendar file."""
    return NO_TEXT.sub("", LINE_ENDS.sub("\n", text))


def one_line(text: str) -> str:
    """The same on a single line, with single spaces: a title."""
    return " ".join(plain(text).split())


class Text(vText):
    """A text value, escaped by RFC 5545 (3.3.11)."""

    def to_ical(self) -> bytes:
        return str(self).translate(ESCAPES).encode()


def opening(*, name: str, colour: str, source: str) -> bytes:
    """How a feed begins: everything before its first event. It has no METHOD: it is a calendar, not a message."""
    calendar = new_calendar()
    calendar.add("name", Text(one_line(name)))
    # Readers that know no NAME take this one raw: signs that would need escaping are kept out of it.
    calendar.add("x-wr-calname", one_line("".join(" " if sign in ",;\\" else sign for sign in name)))
    calendar.add("color", css_colour(colour))
    pause = vDuration(ASK_AGAIN_AFTER)
    pause.params["VALUE"] = "DURATION"
    calendar.add("refresh-interval", pause)
    calendar.add("x-published-ttl", vDuration(ASK_AGAIN_AFTER))
    address = vUri(source)
    address.params["VALUE"] = "URI"
    calendar.add("source", address)
    return bytes(calendar.to_ical()).removesuffix(CLOSING)


CLOSING: Final = b"END:VCALENDAR\r\n"


def new_calendar() -> Calendar:
    """A calendar of nothing; nothing in it depends on chance or on the clock."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    return calendar


def event(
    booking: Booking, machines: Sequence[Machine], *, stamp: datetime | None = None, at_risk: Sequence[str] = ()
) -> Event:
    """One booking as whole days. DTEND is exclusive, as `back_on` is: the machines are back that morning.

    In a feed the stamp is the booking's last change, so that the same bookings give the same bytes; in a message it is
    the moment of writing. `at_risk` is what stands in its way by now, in sentences.
    """
    entry = _entry(booking, machines, uid=f"{booking.uid}@kitshare", stamp=stamp or booking.changed_at)
    entry.add("dtstart", whole_day(booking.out_on))
    entry.add("dtend", _later(whole_day(booking.back_on), than=booking.out_on))
    entry.add("summary", Text(one_line(f"{booking.village.name}: {_kits(machines)}")))
    entry.add("description", Text(plain("\n".join([_description(booking, machines), *map(one_line, at_risk)]))))
    # The days on which a kit is away keep nobody busy.
    entry.add("transp", "TRANSPARENT")
    return entry


def handovers(booking: Booking, machines: Sequence[Machine], *, zone: tzinfo) -> list[Event]:
    """Collecting and bringing back, each at its time: in UTC, with the time on the local clock in words.

    Only these keep anybody busy. Zones are left out: what packages write of them other programs read an hour wrong.
    """
    words = {"village": booking.village.name, "kits": _kits(machines), "machines": _machines(machines)}
    into, onwards = _relays(booking)
    collects = _("%(village)s collects %(kits)s") % words
    if into:
        collects = _("Relay: %(village)s takes %(kits)s on from %(first)s") % (
            words | {"first": into.first.village.name}
        )
    brings = _("%(village)s brings %(kits)s back") % words
    if onwards:
        second = {"second": onwards.second.village.name}
        brings = _("Relay: %(village)s hands %(kits)s on to %(second)s") % (words | second)
    ends = [
        ("out", booking.out_on, booking.out_time, collects, into),
        ("back", booking.back_on, booking.back_time, brings, onwards),
    ]
    found = []
    for which, day, at, title, relay in ends:
        entry = _entry(booking, machines, uid=f"{booking.uid}-{which}@kitshare", stamp=booking.changed_at)
        begins = moment_of(whole_day(day), at, zone)
        entry.add("dtstart", begins)
        entry.add("dtend", begins + HANDOVER_LASTS)
        entry.add("summary", Text(one_line(title)))
        lines = [
            _("On %(when)s, by the clock there.") % {"when": day_at(day, at)},
            _("Machines: %(machines)s.") % words,
        ]
        if relay:
            lines.append(_meeting(relay))
            entry.add("location", Text(one_line(relay.meet_at)))
        entry.add("description", Text(plain("\n".join(lines))))
        entry.add("transp", "OPAQUE")
        found.append(entry)
    return found


def _entry(booking: Booking, machines: Sequence[Machine], *, uid: str, stamp: datetime) -> Event:
    """What every event of a booking says alike."""
    entry = Event()
    entry.add("uid", uid)
    entry.add("dtstamp", in_utc(stamp))
    entry.add("last-modified", in_utc(booking.changed_at))
    entry.add("created", in_utc(booking.asked_at))
    entry.add("sequence", booking.sequence)
    entry.add("status", _status(booking))
    shapes = {machine.kit_id: machine.kit.shape for machine in machines}
    if len(shapes) == 1:
        entry.add("color", css_colour(KIT_COLOURS[next(iter(shapes.values()))]))
    entry.add("url", f"{settings.SITE_ADDRESS.rstrip('/')}{reverse('bookings:show', args=[booking.pk])}")
    return entry


def _kits(machines: Sequence[Machine]) -> str:
    return ", ".join({machine.kit_id: machine.kit.name for machine in machines}.values())


def _machines(machines: Sequence[Machine]) -> str:
    return one_line(", ".join(machine.name for machine in machines))


def whole_day(value: date) -> date:
    """The day; a moment is refused, since it would be written as one."""
    if isinstance(value, datetime):
        raise TypeError("A booking's days are days, not moments.")
    return value


def in_utc(value: datetime) -> datetime:
    """The moment in UTC; without a zone it would be read in whatever zone the reader is in."""
    if value.tzinfo is None:
        raise ValueError("A moment needs its time zone.")
    return value.astimezone(UTC)


def css_colour(name: str) -> str:
    """The colour's name; a number such as #1E7A66 is refused."""
    if not (name.isascii() and name.isalpha()):
        raise ValueError("A calendar's colour goes by its CSS name.")
    return name


def _later(end: date, *, than: date) -> date:
    if end <= than:
        raise ValueError("An event of whole days ends on a later day than it begins.")
    return end


def _relays(booking: Booking) -> tuple[Relay | None, Relay | None]:
    """The relay by which it takes the machines, and the one by which it hands them on."""
    found = (getattr(booking, "relay_from", None), getattr(booking, "relay_onwards", None))
    into, onwards = (relay if relay is not None and relay.pk else None for relay in found)  # one undone has no key
    return into, onwards


def _meeting(relay: Relay) -> str:
    met = {"place": one_line(relay.meet_at), "who": one_line(relay.carried_by)}
    return _("Where: %(place)s. Who carries it: %(who)s.") % met


def _status(booking: Booking) -> str:
    if booking.stage in {Stage.CALLED_OFF, Stage.DECLINED}:
        return "CANCELLED"
    return "TENTATIVE" if booking.stage == Stage.ASKED else "CONFIRMED"


def _description(booking: Booking, machines: Sequence[Machine]) -> str:
    """No telephone number, no gate code: a feed travels further than its owner thinks."""
    days = {"out": day_at(booking.out_on, booking.out_time), "back": day_at(booking.back_on, booking.back_time)}
    lines = [
        _("Machines: %(machines)s.") % {"machines": _machines(machines)},
        _("Collect on %(out)s, back on %(back)s.") % days,
        *(one_line(in_short(relay)) + ". " + _meeting(relay) for relay in _relays(booking) if relay),
    ]
    return "\n".join(lines)
