"""How faults, deeds about them and what is due are written in messages, refusals and the logbook."""

from datetime import date

from django.utils import dateformat
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.rules.servicing import Interval, Unit
from kitshare.upkeep.models import Fault, FaultNote


def day_with_year(day: date) -> str:
    """A day with its weekday and year, such as "Sat 11 Sep 2027": the next of something may be due in another year."""
    return dateformat.format(day, "D j M Y")


def interval_in_words(interval: Interval) -> str:
    """Such as "every 12 months" or "every day"."""
    if interval.unit == Unit.DAYS:
        words = ngettext("every day", "every %(every)d days", interval.every)
    else:
        words = ngettext("every month", "every %(every)d months", interval.every)
    return words % {"every": interval.every}


def where(fault: Fault) -> str:
    """The machine, and the part if one was named, such as "Heron mill, Drive pin"."""
    return f"{fault.machine.name}, {fault.part.name}" if fault.part else fault.machine.name


def deed_in_words(note: FaultNote) -> str:
    """Who did what about a fault, such as "Teodor Haskerby wrote a note: The clip is worn."."""
    words = {"who": note.by.name, "did": note.get_deed_display(), "text": note.text}
    return (_("%(who)s %(did)s: %(text)s") if note.text else _("%(who)s %(did)s.")) % words
