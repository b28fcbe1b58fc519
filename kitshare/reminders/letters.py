"""The words of each reminder: a subject in a line, and a body that says when, where, what and whom to ring.

They name days and never say "tomorrow": a letter that a mail server held back for a day must still be true.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import dateformat, timezone

from kitshare.bookings.models import Booking
from kitshare.kits.models import Depot
from kitshare.people.models import Member, Scheme
from kitshare.reminders.models import By, ReminderRow


@dataclass(frozen=True, slots=True)
class KitOfLetter:
    """A kit as a letter names it: the machines of one booking, and the depot they come from."""

    name: str
    depot: Depot
    machines: list[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """What to tell one person once; the key says what it is about, the kind which reminder it is."""

    key: str
    to: Member
    subject: str
    body: str
    thread: str
    kind: str
    is_safety: bool
    by: str = By.MAIL
    needed_by: datetime | None = None


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
    row: ReminderRow,
    *,
    template: str,
    key: str,
    to: Member,
    subject: str,
    scheme: Scheme,
    thread: str,
    page: str,
    words: Mapping[str, object],
    booking: Booking | None = None,
    needed_by: datetime | None = None,
) -> Letter:
    """Write one letter of a row, in the scheme's own time. `page` is where to read more."""
    values: dict[str, Any] = {"to": to, "scheme": scheme, "address": settings.SITE_ADDRESS.rstrip("/") + page}
    if booking is not None:
        values |= {"booking": booking, "kits": partial(kits_of, booking)}  # asked for by letters that name them
    with timezone.override(scheme.zone):
        body = render_to_string(f"post/letters/{template}.txt", values | dict(words))
    return Letter(
        key=key,
        to=to,
        subject=subject,
        body=body.strip() + "\n",
        thread=thread,
        kind=row.kind,
        is_safety=row.is_of_safety,
        by=row.by,
        needed_by=needed_by,
    )
