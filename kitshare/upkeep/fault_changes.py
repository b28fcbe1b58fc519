"""What every deed about a fault is made of: the words checked, the rows locked, the note and the logbook written.

Each deed locks the machine first, then the fault: so a fault reported and a pickup signed at the same moment see each
other. Each raises the revision by one and writes one note under it: what happened since a page was opened is read from
those notes. The same deed in the same words by the same person, sent once more from the same page, is a double tap: it
is done already.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.upkeep.models import Fault, FaultDeed, FaultNote
from kitshare.upkeep.refusals import FaultChangedMeanwhile, NothingWritten
from kitshare.upkeep.spending import Spent
from kitshare.upkeep.words import where

NOTHING: Final = Spent()
# Deeds that bring a fault to another stage, and what says at which it is.
SHARED: Final = frozenset(
    {
        FaultDeed.TAKEN,
        FaultDeed.HANDED_BACK,
        FaultDeed.HANDED_ON,
        FaultDeed.WAITS,
        FaultDeed.PART_CAME,
        FaultDeed.MENDED,
        FaultDeed.RETEST_FAILED,
        FaultDeed.RELEASED,
        FaultDeed.GIVEN_UP,
    }
)
FOLLOWING: Final = (
    *("stage", "taken_by", "waits_for", "expected_on", "mended_by", "mended_at", "retest_note"),
    *("released_by", "released_at", "given_up_by", "given_up_at", "given_up_reason"),
)


def written(text: str, *, field: str, sentence: str) -> str:
    """What was written without the blanks around it; raises NothingWritten when that is nothing."""
    text = text.strip()
    if not text:
        raise NothingWritten(field=field, sentence=sentence)
    return text


def lock_machines(keys: Iterable[int]) -> dict[int, Machine]:
    """Machines by key, locked in the order of their keys."""
    chosen = Machine.objects.select_related("kit").filter(pk__in=set(keys)).order_by("pk")
    return {machine.pk: machine for machine in chosen.select_for_update(of=("self",), no_key=True)}


def lock_machine(key: int) -> Machine:
    return Machine.objects.select_related("kit").select_for_update(of=("self",), no_key=True).get(pk=key)


def lock(
    fault: Fault, word: FaultDeed, text: str, *, by: Member, revision: int, spent: Spent = NOTHING
) -> tuple[Fault, bool]:
    """The fault as it stands now, nobody else's until this transaction ends; and whether this was done already.

    Raises FaultChangedMeanwhile when it is not the revision that was looked at.
    """
    # A fault that is joined or parted raises the revision of both: at the one looked at, the group is the one locked.
    followers = Fault.objects.filter(joined_to=fault.pk).values_list("machine", flat=True)
    machines = lock_machines({fault.machine_id, *followers})
    people = ("part", "reported_by", "taken_by", "mended_by", "joined_to__machine__kit", "joined_to__part")
    current = Fault.objects.select_related(*people).select_for_update(of=("self",)).get(pk=fault.pk)
    current.machine = machines[current.machine_id]
    if revision == current.revision:
        return current, False
    since = list(current.notes.filter(revision__gt=revision).select_related("by").order_by("revision"))
    done = [(note.deed, note.text, note.by_id, note.minutes, note.money) for note in since]
    is_done = done == [(word, text, by.pk, spent.minutes, spent.money)]
    if not is_done:
        raise FaultChangedMeanwhile(notes=since, revision=current.revision)
    return current, True


def record(
    word: FaultDeed, sentence: str, text: str, *, fault: Fault, by: Member, at: datetime, spent: Spent = NOTHING
) -> None:
    """Save the fault under its next revision, with the note that says so and the line in the logbook.

    What is joined to it comes to the same stage by the same deed.
    """
    _put(word, sentence, text, fault=fault, by=by, at=at, spent=spent)
    if word in SHARED:
        for follower in followers_of(fault):
            follow(follower, fault)
            _put(word, sentence, text, fault=follower, by=by, at=at, spent=NOTHING)


def followers_of(fault: Fault) -> list[Fault]:
    """The faults that are joined to it."""
    return list(
        Fault.objects.filter(joined_to=fault).select_related("machine__kit", "part", "reported_by").order_by("pk")
    )


def follow(follower: Fault, main: Fault) -> None:
    """Bring a fault to the stage of the one that it is joined to."""
    for name in FOLLOWING:
        setattr(follower, name, getattr(main, name))


def _put(word: FaultDeed, sentence: str, text: str, *, fault: Fault, by: Member, at: datetime, spent: Spent) -> None:
    fault.revision += 1
    fault.save()
    said = {"text": text, "minutes": spent.minutes, "money": spent.money}
    FaultNote.objects.create(fault=fault, revision=fault.revision, deed=word, by=by, at=at, **said)
    write(f"fault_{word.value}", sentence, text, fault=fault, by=by, at=at)


def write(word: str, sentence: str, text: str, *, fault: Fault, by: Member, at: datetime) -> None:
    words = {"where": where(fault), "severity": fault.get_severity_display(), "text": text}
    part = [fault.part] if fault.part else []
    about = [fault, fault.machine, fault.machine.kit, *part]
    logbook.write(deed=word, text=sentence % words, about=about, by=by, at=at)
