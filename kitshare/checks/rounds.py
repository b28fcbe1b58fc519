"""What a round does about sheets from phones: those that nobody judged, that wait for another, that nobody mended."""

import logging
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from django.utils.translation import gettext as _

from kitshare.checks.arriving import judge_sheet
from kitshare.checks.lines import handed_over
from kitshare.checks.models import CheckKind
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.checks.telling import tell_kept, write_kept
from kitshare.engine import deed

log = logging.getLogger(__name__)

# A process that stored a sheet judges it at once: what is older was left behind.
JUDGED_WITHIN: Final = timedelta(minutes=1)
MENDED_WITHIN: Final = timedelta(hours=2)
ALONE_AT_MOST: Final = timedelta(minutes=30)
WAITS_FOR: Final = timedelta(days=30)


def see_to_sheets(*, at: datetime) -> int:
    """Take each of them a step on; how many there were. One that breaks holds up no other."""
    seen_to = 0
    for sheet in _left_over(at):
        try:
            if sheet.state == SheetState.WRONG:
                _give_up_mending(sheet=sheet, at=at)
            else:
                _judge(sheet, at)
        except Exception:  # whatever is wrong with this one, the next is looked at
            log.exception("The sheet %s could not be judged.", sheet.key)
            continue
        seen_to += 1
    return seen_to


def _left_over(at: datetime) -> Iterator[SentSheet]:
    """The oldest signed first: a pickup before its return."""
    sheets = SentSheet.objects.select_related("booking__village", "by").order_by("made_at", "pk")
    yield from sheets.filter(state=SheetState.UNJUDGED, received_at__lt=at - JUDGED_WITHIN)
    yield from sheets.filter(state=SheetState.KEPT, waits=True, dealt_at=None, received_at__gt=at - WAITS_FOR)
    unmended = sheets.filter(state=SheetState.WRONG, is_made_away=True, received_at__lt=at - MENDED_WITHIN, waits=False)
    for sheet in unmended:
        if handed_over(sheet.booking, CheckKind(sheet.kind)) is None:
            yield sheet


def _judge(sheet: SentSheet, at: datetime) -> None:
    """Where the sheet for which it waits does not come, the coordinators hear of it."""
    judged = judge_sheet(sheet=sheet, at=at, again=sheet.waits)
    if judged.state == SheetState.KEPT and judged.waits and judged.received_at < at - ALONE_AT_MOST:
        tell_kept(judged, (judged.answer or {})["said"]["words"], at)


@deed
def _give_up_mending(*, sheet: SentSheet, at: datetime) -> None:
    """Nobody mended it, and no other check was made instead: the coordinators hear what was signed."""
    sheet = SentSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    if sheet.state != SheetState.WRONG:
        return
    said = (sheet.answer or {}).get("said", {})
    why = " ".join(said.get("errors", {}).values()) or said.get("words", "")
    sheet.state = SheetState.KEPT
    sheet.save()
    why = _("It was sent back to be mended, and nobody did. %(why)s") % {"why": why}
    write_kept(sheet, why, at)
    tell_kept(sheet, why, at)
