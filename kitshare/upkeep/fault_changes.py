"""What every deed about a fault is made of: the words checked, the rows locked, the note and the logbook written.

Each deed locks the machine first, then the fault: so a fault reported and a pickup signed at the same moment see each
other. Each raises the revision by one and writes one note under it: what happened since a page was opened is read from
those notes. The same deed in the same words by the same person, sent once more from the same page, is a double tap: it
is done already.
"""

from datetime import datetime

from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.upkeep.models import Fault, FaultDeed, FaultNote
from kitshare.upkeep.refusals import FaultChangedMeanwhile, NothingWritten
from kitshare.upkeep.words import where


def written(text: str, *, field: str, sentence: str) -> str:
    """What was written without the blanks around it; raises NothingWritten when that is nothing."""
    text = text.strip()
    if not text:
        raise NothingWritten(field=field, sentence=sentence)
    return text


def lock_machine(key: int) -> Machine:
    return Machine.objects.select_related("kit").select_for_update(of=("self",), no_key=True).get(pk=key)


def lock(fault: Fault, word: FaultDeed, text: str, *, by: Member, revision: int) -> tuple[Fault, bool]:
    """The fault as it stands now, nobody else's until this transaction ends; and whether this was done already.

    Raises FaultChangedMeanwhile when it is not the revision that was looked at.
    """
    machine = lock_machine(fault.machine_id)
    people = ("part", "reported_by", "taken_by", "mended_by")
    current = Fault.objects.select_related(*people).select_for_update(of=("self",)).get(pk=fault.pk)
    current.machine = machine
    if revision == current.revision:
        return current, False
    since = list(current.notes.filter(revision__gt=revision).select_related("by").order_by("revision"))
    is_done = [(note.deed, note.text, note.by_id) for note in since] == [(word, text, by.pk)]
    if not is_done:
        raise FaultChangedMeanwhile(notes=since, revision=current.revision)
    return current, True


def record(word: FaultDeed, sentence: str, text: str, *, fault: Fault, by: Member, at: datetime) -> None:
    """Save the fault under its next revision, with the note that says so and the line in the logbook."""
    fault.revision += 1
    fault.save()
    FaultNote.objects.create(fault=fault, revision=fault.revision, deed=word, by=by, at=at, text=text)
    write(f"fault_{word.value}", sentence, text, fault=fault, by=by, at=at)


def write(word: str, sentence: str, text: str, *, fault: Fault, by: Member, at: datetime) -> None:
    words = {"where": where(fault), "severity": fault.get_severity_display(), "text": text}
    part = [fault.part] if fault.part else []
    about = [fault, fault.machine, fault.machine.kit, *part]
    logbook.write(deed=word, text=sentence % words, about=about, by=by, at=at)
