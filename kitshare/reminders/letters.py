"""The words of each reminder: a subject in a line, and a body that says when, where, what and whom to ring.

They name days and never say "tomorrow": a letter that a mail server held back for a day must still be true.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import dateformat, timezone

from kitshare.bookings.models import Booking
from kitshare.kits.models import Depot
from kitshare.people.models import Member, Scheme

# Letters that tell of a danger, or of its end: nobody can switch them off, and they wait for nothing.
OF_SAFETY: Final = frozenset({"at_risk", "fit_again", "test_first", "test_done", "late_before", "late_is_back"})


@dataclass(frozen=True, slots=True)
class KitOfLetter:
    """A kit as a letter names it: the machines of one booking, and the depot they come from."""

    name: str
    depot: Depot
    machines: list[str]


@dataclass(frozen=True, slots=True)
class Letter:
    """What to tell one person once; the key says what it is about."""

    key: str
    to: Member
    subject: str
    body: str
    thread: str
    is_safety: bool = False


def short_day(day: date) -> str:
    """A day with its weekday, for a subject: "Sat 12 Sep"."""
    return dateformat.format(day, "D j M")


def thread_of(booking: Booking) -> str:
    return f"booking:{booking.pk}"


def kits_of(booking: Booking) -> list[KitOfLetter]:
    """The booking's machines by kit, in packing order."""
    kits: dict[int, KitOfLetter] = {}
    for machine in sorted(booking.machines.all(), key=lambda machine: (machine.kit_id, machine.position, machine.pk)):
        kit = machine.kit
        kits.setdefault(kit.pk, KitOfLetter(name=kit.name, depot=kit.depot, machines=[])).machines.append(machine.name)
    return list(kits.values())


def letter(
    name: str, *, key: str, to: Member, subject: str, booking: Booking, scheme: Scheme, **words: object
) -> Letter:
    """Write one letter about a booking, in the scheme's own time."""
    values: dict[str, Any] = words | {
        "to": to,
        "booking": booking,
        "scheme": scheme,
        "kits": kits_of(booking),
        "address": settings.SITE_ADDRESS.rstrip("/") + reverse("bookings:show", args=[booking.pk]),
    }
    with timezone.override(scheme.zone):
        body = render_to_string(f"post/letters/{name}.txt", values)
    return Letter(
        key=key,
        to=to,
        subject=subject,
        body=body.strip() + "\n",
        thread=thread_of(booking),
        is_safety=name in OF_SAFETY,
    )
