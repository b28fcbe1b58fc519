"""What the invented scheme chose to be reminded of beside the usual: its coordinators would rather ring too early."""

from datetime import datetime, time
from typing import Final

from kitshare.people.models import Member
from kitshare.reminders import policy
from kitshare.reminders.models import Addressed, By, Kind, ReminderRow

SWITCHED_ON: Final = ("briefing-7", "bring-3", "clean-down-1", "season-closes-14", "lay-up-0")


def choose(*, by: Member, at: datetime) -> None:
    """Some rows are switched on, one goes in the evening, and a last step of a late return is for the coordinators."""
    policy.settle_usual(at=at)
    rows = {row.usual: row for row in ReminderRow.objects.all()}
    for usual in SWITCHED_ON:
        policy.switch_row(row=rows[usual], is_on=True, by=by, at=at)
    evening = policy.Said(addressed=Addressed.BORROWER, days=-1, at=time(18), hours=None, by=By.MAIL)
    policy.change_row(row=rows["pickup-1"], said=evening, by=by, at=at)
    last = policy.Said(addressed=Addressed.COORDINATORS, days=5, at=time(8), hours=None, by=By.CALL)
    policy.add_row(kind=Kind.OVERDUE, said=last, by=by, at=at)
