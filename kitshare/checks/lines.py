"""The lines of a check: what must be looked at, what somebody says they saw, and what that means."""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking
from kitshare.checks.gates import HandoverRefused
from kitshare.checks.models import GOES_OUT, CheckKind, CheckLine, HandoverCheck, Outcome, Photo
from kitshare.checks.sharing import lines_of_parts_away
from kitshare.kits.models import Machine, Part
from kitshare.kits.sharing import parts_for, travels_with
from kitshare.rules import checklists
from kitshare.rules.checklists import Condition, PartKind, Seen, StopReason


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPart:
    """A part that must be looked at, how many of it belong there, and at a return how it went out."""

    part: Part
    expected: int
    went_out: CheckLine | None = None
    with_machine: Machine | None = None

    @property
    def machine(self) -> Machine:
        """The machine with which it travels: its own, or for a shared part the first booked that it serves."""
        return self.with_machine or self.part.machine

    @property
    def went_out_count(self) -> int | None:
        """How many travelled, spares that were put in among them; None when nobody wrote it down."""
        line = self.went_out
        if line is None:
            return None
        return max(line.count, line.expected_count) if line.spare_fitted else line.count

    @property
    def went_out_condition(self) -> Condition | None:
        """How it looked when it left; sound where a spare took its place."""
        line = self.went_out
        if line is None:
            return None
        return Condition.SOUND if line.spare_fitted else Condition(line.condition)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSeen:
    """What somebody says about one part."""

    part: Part
    count: int
    condition: Condition
    spare_fitted: bool = False
    note: str = ""
    photo: Photo | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A vital or a guard part that keeps the machine from going out."""

    part: Part
    reason: StopReason

    @property
    def message(self) -> str:
        words = {
            StopReason.MISSING: _("%(part)s is missing."),
            StopReason.DAMAGED: _("%(part)s is damaged."),
            StopReason.SHORT: _("%(part)s: fewer are there than belong to the machine."),
        }
        return words[self.reason] % {"part": self.part.name}


class PartsNotSeen(HandoverRefused):
    """Somebody would sign for parts that nobody looked at."""

    def __init__(self, parts: list[Part]) -> None:
        names = ", ".join(part.name for part in parts)
        super().__init__(_("Not looked at yet: %(names)s.") % {"names": names})
        self.parts = parts


class PartWrong(HandoverRefused):
    """What is said of a part cannot be so. `field` names the entry to correct."""

    def __init__(self, part: Part, field: str, message: str) -> None:
        super().__init__(message)
        self.part = part
        self.field = field


class PickupStopped(HandoverRefused):
    """A vital or a guard part is not as it must be, and no spare is in its place."""

    def __init__(self, stops: list[Stop]) -> None:
        super().__init__(" ".join(stop.message for stop in stops) + " " + _("The machine does not go out like this."))
        self.stops = stops


def pickup_list(booking: Booking) -> list[ListedPart]:
    """Every part in use of the booked machines, in the order in which one packs.

    A part that two of them share is listed once. One that serves a machine here but is out with another village now is
    left off: it cannot be in two places. Whether the machine may go without it the gate asks.
    """
    machines = list(booking.machines.all())
    away = {line.part_id for line in lines_of_parts_away(booking, machines)}
    parts = [part for part in parts_for(machines) if part.pk not in away]
    return _in_packing_order(
        ListedPart(part=part, expected=part.expected_count, with_machine=travels_with(part, machines)) for part in parts
    )


def _in_packing_order(listed: Iterable[ListedPart]) -> list[ListedPart]:
    return sorted(listed, key=lambda row: (row.machine.position, row.machine.pk, row.part.position, row.part.pk))


def handed_over(booking: Booking, kind: CheckKind) -> HandoverCheck | None:
    """The check with which the kit changed hands at this end of the booking, if it did: it may be a relay's."""
    done = HandoverCheck.objects.filter(outcome=Outcome.HANDED_OVER)
    if kind == CheckKind.RETURN:
        return done.filter(Q(booking=booking, kind=kind) | Q(from_booking=booking)).first()
    return done.filter(booking=booking, kind__in=GOES_OUT).first()


def return_list(booking: Booking) -> list[ListedPart]:
    """Every part that went out, with what was seen then: also one that was retired since, and none that was added.

    What came along without being looked at is listed without that.
    Where the kit went out without a pickup check, every part in use.
    """
    pickup = handed_over(booking, CheckKind.PICKUP)
    if pickup is None:
        return pickup_list(booking)
    machines = list(booking.machines.all())
    lines = pickup.lines.select_related("part__machine__kit", "photo").prefetch_related("part__also_serves")
    went_out = [
        ListedPart(
            part=line.part,
            expected=line.expected_count,
            went_out=line,
            with_machine=travels_with(line.part, machines),
        )
        for line in lines
    ]
    unseen = pickup.not_seen.select_related("machine__kit").prefetch_related("also_serves") if pickup.written_at else ()
    came_along = [
        ListedPart(part=part, expected=part.expected_count, with_machine=travels_with(part, machines))
        for part in unseen
    ]
    return _in_packing_order([*went_out, *came_along])


def list_version(listed: Iterable[ListedPart]) -> str:
    """A short word for which parts are listed, how many of each, and of which kinds."""
    said = [[row.part.pk, row.expected, row.part.kind] for row in listed]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:16]


def judge(listed: ListedPart, seen: PartSeen) -> Seen:
    """What was said about a part, as the rules read it. Raises PartWrong where it cannot be so."""
    name = {"part": listed.part.name}
    try:
        return Seen(
            part_key=str(listed.part.pk),
            kind=PartKind(listed.part.kind),
            expected=listed.expected,
            count=seen.count,
            condition=seen.condition,
            spare_fitted=seen.spare_fitted,
        )
    except checklists.MissingButCounted as error:
        message = _("%(part)s: missing means that none is there. If some are, say how many and how they look.")
        raise PartWrong(listed.part, "condition", message % name) from error
    except checklists.NoneSeen as error:
        message = _("%(part)s: if none is there, choose missing.")
        raise PartWrong(listed.part, "condition", message % name) from error
    except checklists.CheckRefused as error:
        message = _("%(part)s: give a number from 0 to 1,000.")
        raise PartWrong(listed.part, "count", message % name) from error


def paired(listed: Sequence[ListedPart], seen: Iterable[PartSeen]) -> list[tuple[ListedPart, PartSeen]]:
    """Each part of the list with what was said about it, in the order of the list; parts not spoken of are left out."""
    said = {line.part.pk: line for line in seen}
    return [(row, said[row.part.pk]) for row in listed if row.part.pk in said]


def stops(pairs: Iterable[tuple[ListedPart, PartSeen]]) -> list[Stop]:
    """The parts because of which nothing goes out. Raises PartWrong."""
    found = []
    for row, line in pairs:
        if reason := checklists.stops_handover(judge(row, line)):
            found.append(Stop(part=row.part, reason=reason))
    return found


def fault_note(row: ListedPart, line: PartSeen, finding: checklists.FaultFinding, occasion: str) -> str:
    """The sentence with which a fault found at a check is written down."""
    counts = ngettext("%(count)d of %(all)d was there", "%(count)d of %(all)d were there", line.count) % {
        "count": line.count,
        "all": row.expected,
    }
    words = {
        checklists.FaultReason.MISSING: _("missing"),
        checklists.FaultReason.DAMAGED: _("damaged"),
        checklists.FaultReason.FEWER: counts,
        checklists.FaultReason.SPARE_USED: _("a spare was put in, so the depot is one short"),
    }
    what = words[finding.reason]
    if finding.reason == checklists.FaultReason.DAMAGED and finding.short_by:
        what = f"{what}, {counts}"
    if finding.replace_spare and finding.reason != checklists.FaultReason.SPARE_USED:
        what = _("%(what)s; a spare was put in its place, so the depot is one short") % {"what": what}
    sentence = _("%(part)s: %(what)s. Found at the %(occasion)s.") % {
        "part": row.part.name,
        "what": what,
        "occasion": occasion,
    }
    return f"{sentence} {line.note}".strip()
