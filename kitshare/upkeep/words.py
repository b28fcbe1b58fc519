"""How faults and deeds about them are written in messages, refusals and the logbook."""

from django.utils.translation import gettext as _

from kitshare.upkeep.models import Fault, FaultNote


def where(fault: Fault) -> str:
    """The machine, and the part if one was named, such as "Heron mill, Drive pin"."""
    return f"{fault.machine.name}, {fault.part.name}" if fault.part else fault.machine.name


def deed_in_words(note: FaultNote) -> str:
    """Who did what about a fault, such as "Teodor Haskerby wrote a note: The clip is worn."."""
    words = {"who": note.by.name, "did": note.get_deed_display(), "text": note.text}
    return (_("%(who)s %(did)s: %(text)s") if note.text else _("%(who)s %(did)s.")) % words
