"""Why something cannot be done about a fault: each with a sentence fit to show, and what to do about it."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from kitshare.kits.models import Machine, Part
from kitshare.upkeep.models import Fault, FaultNote
from kitshare.upkeep.words import deed_in_words


class FaultRefused(Exception):
    """Something about a fault cannot be done. `field` names what to correct, if anything typed is at fault."""

    field: str | None = None


class NothingWritten(FaultRefused):
    """The deed needs a sentence, and none was given."""

    def __init__(self, *, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


class PartOfAnotherMachine(FaultRefused):
    """The part does not belong to the machine that was named."""

    field = "part"

    def __init__(self, *, part: Part, machine: Machine) -> None:
        words = {"part": part.name, "machine": machine.name}
        super().__init__(_("%(part)s is no part of %(machine)s. Choose one of its own parts, or none.") % words)
        self.part = part
        self.machine = machine


class NotTheirs(FaultRefused):
    """The deed belongs to somebody else's role."""

    def __init__(self) -> None:
        super().__init__(_("This is for maintenance volunteers and the coordinator. Telephone the coordinator."))


class AlreadyReleased(FaultRefused):
    """The fault is over."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is released already. If it is back, report it anew."))
        self.fault = fault


class AlreadyTaken(FaultRefused):
    """It is in their own hands, or mended already."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is taken on by you already, or mended."))
        self.fault = fault


class NotInHand(FaultRefused):
    """Only who took a fault on, or a coordinator, hands it back."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is not yours to hand back."))
        self.fault = fault


class NotMended(FaultRefused):
    """A retest comes after the mending."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is not mended yet: write down what was done first, then retest."))
        self.fault = fault


class AsBadAsBefore(FaultRefused):
    """The fault is graded so already."""

    field = "severity"

    def __init__(self, *, fault: Fault) -> None:
        words = {"severity": fault.get_severity_display()}
        super().__init__(_("It is graded “%(severity)s” already. Choose another, or write a note.") % words)
        self.fault = fault


class StopsUntilReleased(FaultRefused):
    """A vital or a guard part stops use until it was mended and retested; no stroke of the pen makes it milder."""

    field = "severity"

    def __init__(self, *, fault: Fault) -> None:
        words = {"part": fault.part.name if fault.part else fault.machine.name}
        sentence = _(
            "%(part)s is a vital or a guard part: its fault stops use until it is mended, retested and released."
            " If it was reported by mistake, write down as mended what you looked at, then release it."
        )
        super().__init__(sentence % words)
        self.fault = fault


class FaultChangedMeanwhile(FaultRefused):
    """Somebody changed the fault after this page was opened. `changes` says what, a sentence each, oldest first."""

    def __init__(self, *, notes: Sequence[FaultNote], revision: int) -> None:
        self.changes = [deed_in_words(note) for note in notes]
        self.revision = revision
        super().__init__(" ".join([_("This fault was changed after you opened it."), *self.changes]))
