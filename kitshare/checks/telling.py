"""What coordinators are told of checks; and what the logbook says of sheets that could not become one."""

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.words import machines_in_words
from kitshare.checks.coming import moment_in_words
from kitshare.checks.lines import Stop
from kitshare.checks.models import CheckKind, HandoverCheck
from kitshare.checks.sent_models import SentSheet
from kitshare.logbook import actions as logbook
from kitshare.outbox import actions as outbox
from kitshare.outbox.speaking import Lines, in_each_language
from kitshare.people.models import Member


def words_of(sheet: SentSheet) -> dict[str, str]:
    return {
        "who": sheet.by.name,
        "kind": str(CheckKind(sheet.kind).label),
        "village": sheet.booking.village.name,
        "when": moment_in_words(sheet.made_at),
        "page": _in_full(reverse("checks:sent", args=[sheet.pk])),
    }


def write_kept(sheet: SentSheet, why: str, at: datetime) -> None:
    """The logbook's line about a sheet that was signed and cannot be recorded."""
    words = words_of(sheet) | {"why": why}
    text = _("The %(kind)s that %(who)s signed on a phone at %(when)s is kept, and not recorded: %(why)s") % words
    logbook.write(deed="sheet_kept", text=text, about=[sheet.booking, sheet.booking.village], by=sheet.by, at=at)


@in_each_language
def tell_kept(sheet: SentSheet, why: str, at: datetime) -> None:
    """Word to every coordinator about such a sheet, once however often it is asked for."""
    words = words_of(sheet) | {"why": why}
    lines = [
        _("%(who)s signed a %(kind)s for %(village)s at %(when)s on a phone. It came only now.") % words,
        _("It could not be recorded: %(why)s") % words,
        _("So the kit may be somewhere else than this site believes. See what was signed, and settle it: %(page)s")
        % words,
    ]
    subject = _("A check could not be recorded: %(village)s") % words
    tell_coordinators(f"sheet-kept:{sheet.key}", subject, lines, booking=sheet.booking, at=at)


def write_merged(sheet: SentSheet, first: HandoverCheck, said: Sequence[str], at: datetime) -> None:
    """The logbook's line about a second check of one kit."""
    words = words_of(sheet) | {"first": first.signed_name, "differences": " ".join(said)}
    text = _("%(who)s had done the %(kind)s too, at %(when)s: kept beside that of %(first)s. %(differences)s") % words
    logbook.write(
        deed="sheet_merged",
        text=text.strip(),
        about=[sheet.booking, sheet.booking.village],
        by=sheet.by,
        at=at,
    )


@in_each_language
def tell_differing(sheet: SentSheet, first: HandoverCheck, said: Lines, at: datetime) -> None:
    """Word to every coordinator that the second check of a kit saw something worse."""
    words = words_of(sheet) | {"first": first.signed_name}
    lines = [
        _("Two people did the %(kind)s for %(village)s: %(first)s, and %(who)s at %(when)s. They differ:") % words,
        *said(),
        _("What the second saw worse is reported as a fault. Both stand here: %(page)s") % words,
    ]
    subject = _("Two checks of one kit differ: %(village)s") % words
    tell_coordinators(f"sheet-differs:{sheet.key}", subject, lines, booking=sheet.booking, at=at)


@in_each_language
def tell_of_spite(check: HandoverCheck) -> None:
    """Every coordinator hears that a kit went out in spite of what stops it. Queued before the faults are."""
    booking = check.booking
    words = {
        "village": booking.village.name,
        "machines": machines_in_words(booking.machines.order_by("pk")),
        "who": check.taken_name or check.signed_name,
        "when": moment_in_words(check.done_at),
        "telephone": booking.borrower.telephone or _("no number known"),
        "borrower": booking.borrower.name,
        "page": page_of(booking),
    }
    lines = [
        _("The kit went out to %(village)s in spite of what stops it: %(machines)s.") % words,
        check.in_spite,
        _("Signed by %(who)s at %(when)s. Nobody could be asked then; we hear of it only now.") % words,
        _("Telephone before a machine is started: %(borrower)s, %(telephone)s. Then look at the booking: %(page)s")
        % words,
    ]
    subject = _("Handed over in spite of a stop: %(village)s, %(machines)s") % words
    tell_coordinators(f"out-in-spite:{check.key}", subject, lines, booking=booking, at=check.known_at)


@in_each_language
def tell_of_stop(check: HandoverCheck, stopping: Sequence[Stop]) -> None:
    """Every coordinator hears at once that a village stands at the depot and cannot take the kit."""
    booking = check.booking
    words = {
        "village": booking.village.name,
        "machines": machines_in_words({stop.part.machine_id: stop.part.machine for stop in stopping}.values()),
        "who": check.signed_name,
    }
    lines = [
        _("%(who)s stopped the pickup for %(village)s: the kit is still at the depot.") % words,
        *(stop.message for stop in stopping),
        _("Set aside until it is mended and released: %(machines)s.") % words,
        _("Telephone the village: they stand there with fruit to press. Then look at the booking: %(page)s")
        % {"page": page_of(booking)},
    ]
    subject = _("Pickup stopped: %(village)s, %(machines)s") % words
    tell_coordinators(f"pickup-stopped:{check.pk}", subject, lines, booking=booking, at=check.known_at)


def page_of(booking: Booking) -> str:
    """The address of a booking's page, in full."""
    return _in_full(reverse("bookings:show", args=[booking.pk]))


def tell_coordinators(about: str, subject: str, lines: Sequence[str], *, booking: Booking, at: datetime) -> None:
    """One message to each coordinator. `about` names what it tells of: each of them is told that once."""
    for coordinator in Member.objects.coordinating():
        outbox.queue(
            key=f"{about}:{coordinator.pk}",
            to=coordinator,
            subject=subject,
            body="\n\n".join(lines),
            at=at,
            thread=f"booking:{booking.pk}",
            is_safety=True,
        )


def _in_full(path: str) -> str:
    return settings.SITE_ADDRESS.rstrip("/") + path
