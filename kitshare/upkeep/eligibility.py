"""Whether a deed is open: `check_can_x` raises the reason why not, `x_can` answers yes or no for a page.

Anybody may report a fault. Whoever reported it may add notes to it. The rest is for maintenance volunteers and
coordinators, who in a small group are often one person: the same member may mend and release, and both names are kept.
"""

from collections.abc import Callable

from kitshare.people.models import Member
from kitshare.rules.checklists import Severity
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.refusals import (
    AlreadyReleased,
    AlreadyTaken,
    AsBadAsBefore,
    CannotBeFollowed,
    DoesNotMend,
    FaultRefused,
    FollowsAnother,
    FollowsNone,
    GivenUpAlready,
    HasItAlready,
    MendedAlready,
    NotInHand,
    NotMended,
    NotTheirs,
    NotTheirsToHandOn,
    OthersFollow,
    StopsSomethingInUse,
    StopsUntilReleased,
    WaitsForNothing,
)


def mends(member: Member) -> bool:
    """Whether a member's role lets them work on faults."""
    return member.is_active and (member.maintains or member.coordinates)


def _check_can_work_on(fault: Fault, by: Member) -> None:
    _check_is_open(fault, by)
    if fault.follows:
        raise FollowsAnother(fault=fault)


def _check_is_open(fault: Fault, by: Member) -> None:
    if not mends(by):
        raise NotTheirs
    if not fault.is_open:
        raise GivenUpAlready(fault=fault) if fault.stage == FaultStage.GIVEN_UP else AlreadyReleased(fault=fault)


def check_can_note(*, fault: Fault, by: Member) -> None:
    """Those who work on it, and whoever reported it; a released fault too may get a late note."""
    if not (mends(by) or (by.is_active and by.pk == fault.reported_by_id)):
        raise NotTheirs


def check_can_take(*, fault: Fault, by: Member) -> None:
    """From the bench, or out of the hands of somebody else, who is named in the notes."""
    _check_can_work_on(fault, by)
    if fault.stage == FaultStage.MENDED or fault.taken_by_id == by.pk:
        raise AlreadyTaken(fault=fault)


def check_can_hand_on(*, fault: Fault, by: Member) -> None:
    """Out of their own hands; a coordinator also out of somebody else's, or from the bench."""
    _check_can_work_on(fault, by)
    if fault.stage == FaultStage.MENDED:
        raise MendedAlready(fault=fault)
    if not (by.coordinates or fault.taken_by_id == by.pk):
        raise NotTheirsToHandOn(fault=fault)


def check_can_hand_on_to(*, fault: Fault, to: Member, by: Member) -> None:
    check_can_hand_on(fault=fault, by=by)
    if not mends(to):
        raise DoesNotMend(to=to)
    if to.pk == fault.taken_by_id:
        raise HasItAlready(to=to)


def check_can_wait(*, fault: Fault, by: Member) -> None:
    """Taken on or not: whoever finds out that a part is missing may say so."""
    _check_can_work_on(fault, by)
    if fault.stage == FaultStage.MENDED:
        raise MendedAlready(fault=fault)


def check_can_go_on(*, fault: Fault, by: Member) -> None:
    _check_can_work_on(fault, by)
    if not fault.waits_for:
        raise WaitsForNothing(fault=fault)


def check_can_give_up(*, fault: Fault, by: Member) -> None:
    """Giving up mends nothing: what stops a machine in use is not given up."""
    _check_can_work_on(fault, by)
    check_stops_nothing_in_use(fault=fault)


def check_stops_nothing_in_use(*, fault: Fault) -> None:
    if fault.stops_something_in_use:
        raise StopsSomethingInUse(fault=fault)


def check_can_hand_back(*, fault: Fault, by: Member) -> None:
    _check_can_work_on(fault, by)
    if fault.stage != FaultStage.TAKEN or not (by.coordinates or fault.taken_by_id == by.pk):
        raise NotInHand(fault=fault)


def check_can_regrade(*, fault: Fault, by: Member) -> None:
    """How bad it is, each fault says for itself, joined or not."""
    _check_is_open(fault, by)


def check_can_join(*, fault: Fault, by: Member) -> None:
    """A fault that is not mended, and that no other follows."""
    _check_can_work_on(fault, by)
    if fault.stage == FaultStage.MENDED:
        raise MendedAlready(fault=fault)
    if fault.joined.exists():
        raise OthersFollow(fault=fault)


def check_can_join_to(*, fault: Fault, main: Fault, by: Member) -> None:
    check_can_join(fault=fault, by=by)
    if main.pk == fault.pk or not main.is_open or main.follows or main.stage == FaultStage.MENDED:
        raise CannotBeFollowed(main=main)


def check_can_part(*, fault: Fault, by: Member) -> None:
    _check_is_open(fault, by)
    if not fault.follows:
        raise FollowsNone(fault=fault)


def check_can_regrade_to(*, fault: Fault, severity: Severity, by: Member) -> None:
    """A fault of a vital or a guard part that stops use stays so until it is released after a retest."""
    check_can_regrade(fault=fault, by=by)
    if severity == fault.severity:
        raise AsBadAsBefore(fault=fault)
    if fault.stops_use and fault.part is not None and fault.part.stops_a_handover:
        raise StopsUntilReleased(fault=fault)


def check_can_mend(*, fault: Fault, by: Member) -> None:
    """Taken on or not: small things are mended where they are found."""
    _check_can_work_on(fault, by)


def check_can_retest(*, fault: Fault, by: Member) -> None:
    """Only what was mended can pass or fail a retest."""
    _check_can_work_on(fault, by)
    if fault.stage != FaultStage.MENDED:
        raise NotMended(fault=fault)


def _answers(check: Callable[..., None], fault: Fault, by: Member) -> bool:
    try:
        check(fault=fault, by=by)
    except FaultRefused:
        return False
    return True


def note_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_note, fault, by)


def take_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_take, fault, by)


def hand_back_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_hand_back, fault, by)


def hand_on_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_hand_on, fault, by)


def wait_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_wait, fault, by)


def go_on_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_go_on, fault, by)


def give_up_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_give_up, fault, by)


def join_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_join, fault, by)


def part_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_part, fault, by)


def regrade_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_regrade, fault, by)


def mend_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_mend, fault, by)


def retest_can(*, fault: Fault, by: Member) -> bool:
    return _answers(check_can_retest, fault, by)
