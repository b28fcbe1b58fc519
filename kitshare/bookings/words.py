"""How days and machines are written in messages, refusals and the logbook."""

from collections.abc import Iterable
from datetime import date, time

from django.utils import dateformat
from django.utils.text import get_text_list
from django.utils.translation import gettext as _

from kitshare.kits.models import Machine
from kitshare.rules.periods import Period
from kitshare.rules.servicing import is_overdue
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.words import day_with_year


def day_in_words(day: date) -> str:
    """A day with its weekday, such as "Sat 11 Sep"."""
    return dateformat.format(day, "D j M")


def day_at(day: date, at: time) -> str:
    """A day and a time of the scheme's own clock, such as "Sat 11 Sep at 10:00"."""
    return _("%(day)s at %(time)s") % {"day": day_in_words(day), "time": f"{at:%H:%M}"}


def days_in_words(period: Period) -> str:
    """From the day out to the day back, such as "Sat 11 Sep to Mon 13 Sep"."""
    return _("%(out)s to %(back)s") % {"out": day_in_words(period.start), "back": day_in_words(period.end)}


def from_day_to_day(first: date, last: date) -> str:
    """Days of which the last counts too, such as "Sat 11 Sep" or "from Sat 11 Sep to Mon 13 Sep"."""
    if first == last:
        return day_in_words(first)
    return _("from %(first)s to %(last)s") % {"first": day_in_words(first), "last": day_in_words(last)}


def machines_in_words(machines: Iterable[Machine]) -> str:
    """The machines by name, such as "Heron mill, Heron press and Otter mill"."""
    return get_text_list([machine.name for machine in machines], _("and"))


def test_first_in_words(plan: CarePlan, *, out_on: date, today: date) -> str:
    """That a safety test must come before an outing, and what happens if it does not."""
    words = {
        "machine": plan.machine.name,
        "name": plan.name,
        "due": day_with_year(plan.due_on),
        "out": day_in_words(out_on),
    }
    if is_overdue(plan.due_on, on=today):
        return (
            _("%(machine)s: “%(name)s” was due on %(due)s. Nobody hands it over until it is recorded as passed.")
            % words
        )
    sentence = _(
        "%(machine)s: “%(name)s” falls due on %(due)s, before it goes out on %(out)s."
        " Nobody hands it over then unless it is recorded as passed."
    )
    return sentence % words
