"""A row of the policy in words, such as "2 days before pickup, at 07:00, to the borrower, by mail"."""

from datetime import time

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.reminders.models import Addressed, By, ReminderRow
from kitshare.reminders.terms import TERMS


def in_words(row: ReminderRow) -> str:
    """When it goes, to whom, and by which channel."""
    return ", ".join(
        [*when_in_words(row), _("to %(whom)s") % {"whom": Addressed(row.addressed).label}, str(By(row.by).label)]
    )


def when_in_words(row: ReminderRow) -> list[str]:
    """The day and the time of day, or what stands in their place."""
    if row.hours is not None:
        words = ngettext("%(hours)d hour before it runs out", "%(hours)d hours before it runs out", row.hours)
        return [words % {"hours": row.hours}]
    if row.days is None:
        if row.at is None:
            return [_("as soon as it is known, at any hour")]
        return [_("as soon as it is known, from %(time)s on") % {"time": _time(row.at)}]
    return [day_in_words(row.days, str(TERMS[row.kind].day)), _("at %(time)s") % {"time": _time(row.hour)}]


def day_in_words(days: int, what: str) -> str:
    """How many days before or after what, such as "2 days before pickup"."""
    if days == 0:
        return _("on the day of %(what)s") % {"what": what}
    if days < 0:
        words = ngettext("%(days)d day before %(what)s", "%(days)d days before %(what)s", -days)
    else:
        words = ngettext("%(days)d day after %(what)s", "%(days)d days after %(what)s", days)
    return words % {"days": abs(days), "what": what}


def _time(at: time) -> str:
    return f"{at:%H:%M}"
