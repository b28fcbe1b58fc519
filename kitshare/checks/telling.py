"""The logbook and the coordinators, about sheets that could not become the check."""

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.checks.coming import moment_in_words
from kitshare.checks.models import CheckKind, HandoverCheck
from kitshare.checks.sent_models import SentSheet
from kitshare.logbook import actions as logbook
from kitshare.outbox import actions as outbox
from kitshare.people.models import Member


def words_of(sheet: SentSheet) -> dict[str, str]:
    return {
        "who": sheet.by.name,
        "kind": str(CheckKind(sheet.kind).label),
        "village": sheet.booking.village.name,
        "when": moment_in_words(sheet.made_at),
        "page": settings.SITE_ADDRESS.rstrip("/") + reverse("checks:sent", args=[sheet.pk]),
    }


def write_kept(sheet: SentSheet, why: str, at: datetime) -> None:
    """The logbook's line about a sheet that was signed and cannot be recorded."""
    words = words_of(sheet) | {"why": why}
    text = _("The %(kind)s that %(who)s signed on a phone at %(when)s is kept, and not recorded: %(why)s") % words
    logbook.write(deed="sheet_kept", text=text, about=[sheet.booking, sheet.booking.village], by=sheet.by, at=at)


def tell_kept(sheet: SentSheet, why: str, at: datetime) -> None:
    """Word to every coordinator about such a sheet, once however often it is asked for."""
    words = words_of(sheet) | {"why": why}
    lines = [
        _("%(who)s signed a %(kind)s for %(village)s at %(when)s on a phone. It came only now.") % words,
        _("It could not be recorded: %(why)s") % words,
        _("So the kit may be somewhere else than this site believes. See what was signed, and settle it: %(page)s")
        % words,
    ]
    _tell("sheet-kept", _("A check could not be recorded: %(village)s") % words, lines, sheet, at)


def write_merged(sheet: SentSheet, first: HandoverCheck, said: Sequence[str], at: datetime, *, matters: bool) -> None:
    """A second check of one kit: a line in the logbook; and word to the coordinators where it saw something worse."""
    words = words_of(sheet) | {"first": first.signed_name, "differences": " ".join(said)}
    text = _("%(who)s had done the %(kind)s too, at %(when)s: kept beside that of %(first)s. %(differences)s") % words
    logbook.write(
        deed="sheet_merged",
        text=text.strip(),
        about=[sheet.booking, sheet.booking.village],
        by=sheet.by,
        at=at,
    )
    if matters:
        lines = [
            _("Two people did the %(kind)s for %(village)s: %(first)s, and %(who)s at %(when)s. They differ:") % words,
            *said,
            _("What the second saw worse is reported as a fault. Both stand here: %(page)s") % words,
        ]
        _tell("sheet-differs", _("Two checks of one kit differ: %(village)s") % words, lines, sheet, at)


def _tell(event: str, subject: str, lines: list[str], sheet: SentSheet, at: datetime) -> None:
    for coordinator in Member.objects.coordinating():
        outbox.queue(
            key=f"{event}:{sheet.key}:{coordinator.pk}",
            to=coordinator,
            subject=subject,
            body="\n\n".join(lines),
            at=at,
            thread=f"booking:{sheet.booking_id}",
        )
