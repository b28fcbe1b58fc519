"""What coordinators do about sheets that could not be recorded."""

from datetime import datetime

from django.utils.translation import gettext as _

from kitshare.checks.arriving import judge_sheet
from kitshare.checks.gates import HandoverRefused
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.checks.telling import words_of
from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member


class OnlyCoordinators(HandoverRefused):
    """Somebody who does not run the calendar."""

    def __init__(self) -> None:
        super().__init__(_("Only a coordinator settles a sheet."))


class NothingSaid(HandoverRefused):
    """Settled without a word about how."""

    def __init__(self) -> None:
        super().__init__(_("Say what was done about it: somebody will ask."))


class StillInTheWay(HandoverRefused):
    """Looked at again, it cannot be recorded yet."""

    def __init__(self) -> None:
        super().__init__(_("It still cannot be recorded: what was in its way is there yet."))


@deed
def deal_with_sheet(*, sheet: SentSheet, note: str, by: Member, at: datetime) -> SentSheet:
    """A coordinator has settled what a sheet tells of. The sheet stays; a second time changes nothing."""
    _check_coordinates(by)
    if not note.strip():
        raise NothingSaid
    sheet = SentSheet.objects.select_for_update(of=("self",)).get(pk=sheet.pk)
    if sheet.dealt_at is not None:
        return sheet
    sheet.dealt_at, sheet.dealt_by, sheet.dealt_note = at, by, note.strip()
    sheet.save()
    words = words_of(sheet) | {"by": by.name, "note": sheet.dealt_note}
    text = _("%(by)s dealt with the sheet of %(who)s, %(kind)s of %(when)s. %(note)s") % words
    logbook.write(deed="sheet_dealt_with", text=text, about=[sheet.booking, sheet.booking.village], by=by, at=at)
    return sheet


def take_up_again(*, sheet: SentSheet, by: Member, at: datetime) -> SentSheet:
    """Record a kept sheet now that nothing is in its way. Raises StillInTheWay."""
    _check_coordinates(by)
    sheet = judge_sheet(sheet=sheet, at=at, again=True)
    if sheet.state == SheetState.KEPT:
        raise StillInTheWay
    return sheet


def _check_coordinates(by: Member) -> None:
    if not by.coordinates:
        raise OnlyCoordinators
