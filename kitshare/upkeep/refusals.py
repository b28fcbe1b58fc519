"""Why something cannot be done about a fault: each with a sentence fit to show, and what to do about it."""

from collections.abc import Sequence
from datetime import date

from django.utils.translation import gettext as _

from kitshare.kits.models import Machine, Part
from kitshare.people.models import Member
from kitshare.upkeep.models import Fault, FaultNote
from kitshare.upkeep.words import day_with_year, deed_in_words, where


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


class GivenUpAlready(FaultRefused):
    """The fault was given up."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault was given up. If something is wrong still, report it anew."))
        self.fault = fault


class MendedAlready(FaultRefused):
    """What comes next is the retest."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is mended: what comes next is the retest, by whoever has the time."))
        self.fault = fault


class NotTheirsToHandOn(FaultRefused):
    """Only who took a fault on, or a coordinator, hands it on."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is not in your hands. Take it on first, or ask the coordinator."))
        self.fault = fault


class DoesNotMend(FaultRefused):
    """A fault is handed on to whoever may work on it."""

    field = "to"

    def __init__(self, *, to: Member) -> None:
        super().__init__(_("%(who)s is no maintenance volunteer. Choose somebody who mends.") % {"who": to.name})
        self.to = to


class HasItAlready(FaultRefused):
    """It is in these hands."""

    field = "to"

    def __init__(self, *, to: Member) -> None:
        super().__init__(_("%(who)s has it in hand already.") % {"who": to.name})
        self.to = to


class DayIsPast(FaultRefused):
    """A part is expected on a day to come."""

    field = "expected_on"

    def __init__(self, day: date) -> None:
        words = {"day": day_with_year(day)}
        super().__init__(_("%(day)s is past. Say a day from today on; the day on which you ask again will do.") % words)
        self.day = day


class WaitsForNothing(FaultRefused):
    """It is not waiting."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault waits for no part."))
        self.fault = fault


class StopsSomethingInUse(FaultRefused):
    """Giving it up would lift the stop from a machine that people can take."""

    field = "reason"

    def __init__(self, *, fault: Fault) -> None:
        words = {"machine": fault.machine.name, "part": fault.part.name if fault.part else ""}
        if fault.part is None:
            text = _(
                "It stops %(machine)s, which is in use: giving up mends nothing. Mend it; or retire %(machine)s first."
            )
        elif fault.part.stops_a_handover:
            text = _(
                "%(part)s is a vital or a guard part, and a machine that needs it is in use: its fault ends when it is"
                " mended, or another one is fitted, and that is retested. Or retire %(machine)s first."
            )
        else:
            text = _(
                "It stops %(machine)s, which is in use: giving up mends nothing. Mend it; or retire %(part)s or"
                " %(machine)s first."
            )
        super().__init__(text % words)
        self.fault = fault


class FollowsAnother(FaultRefused):
    """It is joined to another fault, at which the deeds are done."""

    def __init__(self, *, fault: Fault) -> None:
        words = {"other": where(fault.joined_to or fault)}
        text = _("This fault is joined to the one of %(other)s: do it there, or part them first.")
        super().__init__(text % words)
        self.fault = fault


class OthersFollow(FaultRefused):
    """A fault that others follow follows none."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("Other faults are joined to this one. Part them first, or join the other one to this."))
        self.fault = fault


class CannotBeFollowed(FaultRefused):
    """Over, mended, the fault itself, or one that follows another."""

    field = "main"

    def __init__(self, *, main: Fault) -> None:
        text = _("The fault of %(other)s is mended, over, or joined to another itself. Choose one that is still open.")
        super().__init__(text % {"other": where(main)})
        self.main = main


class FollowsNone(FaultRefused):
    """It stands for itself."""

    def __init__(self, *, fault: Fault) -> None:
        super().__init__(_("This fault is joined to no other that is open."))
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
