"""What a handover check means: what stops a pickup, and what becomes a fault by itself.

The rule behind it: a machine does not go out with a vital or a guard part missing, damaged or
short, unless a spare is put in its place on the spot. Everything else may travel, but what is
missing, damaged or fewer is written down.

The enums carry plain lower-case strings, so that a value read from a database compares equal to
its member.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar


class PartKind(StrEnum):
    """What losing the part means for the day."""

    VITAL = "vital"  # if it is lost, the day is lost
    GUARD = "guard"  # without it nobody may lift, move or start the machine
    COUNTED = "counted"  # travels in a number
    CONSUMABLE = "consumable"  # is used up
    ORDINARY = "ordinary"


class Condition(StrEnum):
    """How a part looked at a check, from best to worst."""

    SOUND = "sound"
    WORN = "worn"
    DAMAGED = "damaged"
    MISSING = "missing"

    @property
    def rank(self) -> int:
        """0 for sound up to 3 for missing. Sort by this: the strings sort by letter."""
        return list(Condition).index(self)


class Severity(StrEnum):
    """What a fault forbids, from worst to mildest."""

    STOPS_USE = "stops_use"
    USE_WITH_CARE = "use_with_care"
    LOOKS_ONLY = "looks_only"

    @property
    def rank(self) -> int:
        """0 for stops use up to 2 for looks only. Sort by this: the strings sort by letter."""
        return list(Severity).index(self)


class StopReason(StrEnum):
    """Why a pickup cannot go on."""

    MISSING = "missing"
    DAMAGED = "damaged"
    SHORT = "short"  # some are there, fewer than belong to the machine


class FaultReason(StrEnum):
    """What was found wrong with a part."""

    MISSING = "missing"
    DAMAGED = "damaged"
    FEWER = "fewer"
    SPARE_USED = "spare_used"  # nothing else is wrong, but the depot is a spare short


NEEDED_TO_RUN = frozenset({PartKind.VITAL, PartKind.GUARD})


class CheckRefused(ValueError):
    """What was entered for a part cannot be so. `field` names the entry to correct."""

    field: ClassVar[str] = "count"

    def __init__(self, part_key: str, value: int) -> None:
        super().__init__(f"{type(self).__name__}: part {part_key!r}, {self.field} {value}")
        self.part_key = part_key
        self.value = value


class CountOutOfRange(CheckRefused):
    """A count below 0 or above 1000."""


class ExpectedOutOfRange(CheckRefused):
    """An expected number below 1 or above 1000: a part that is not expected is not on the list."""

    field = "expected"


class WentOutCountOutOfRange(CheckRefused):
    """A number that went out below 0 or above 1000."""

    field = "went_out_count"


class MissingButCounted(CheckRefused):
    """Said to be missing, though some were counted: when only some are gone, the count says so."""

    field = "condition"


class NoneSeen(CheckRefused):
    """Said to be sound, worn or damaged, though none was counted: then it is missing."""

    field = "condition"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One part as it was seen at a check.

    `expected` is how many belong to the machine (1 to 1000), `count` how many were there (0 to
    1000), whatever their condition; `condition` is that of the worst one. It is missing exactly
    when none was there. `spare_fitted` says that spares took the place of all that was missing or
    damaged, on the spot.

    Raises ExpectedOutOfRange, CountOutOfRange, MissingButCounted or NoneSeen, all CheckRefused.
    """

    LEAST: ClassVar[int] = 0
    MOST: ClassVar[int] = 1000

    part_key: str
    kind: PartKind
    expected: int
    count: int
    condition: Condition
    spare_fitted: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.expected <= self.MOST:
            raise ExpectedOutOfRange(self.part_key, self.expected)
        if not self.LEAST <= self.count <= self.MOST:
            raise CountOutOfRange(self.part_key, self.count)
        if self.condition == Condition.MISSING and self.count > 0:
            raise MissingButCounted(self.part_key, self.count)
        if self.condition != Condition.MISSING and self.count == 0:
            raise NoneSeen(self.part_key, self.count)

    @property
    def goes_out(self) -> int:
        """How many travel after a pickup check, the spares that were fitted among them."""
        return max(self.count, self.expected) if self.spare_fitted else self.count


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultFinding:
    """A fault that a check brings to light by itself.

    `short_by` is how many are gone (0 when none is); `replace_spare` says that the machine is
    whole again, but the depot is a spare short.
    """

    part_key: str
    severity: Severity
    reason: FaultReason
    short_by: int
    replace_spare: bool


def stops_handover(seen: Seen) -> StopReason | None:
    """Why this part keeps the machine from going out, or None when it does not.

    A vital or a guard part stops it when missing, damaged or fewer than expected, unless a spare
    is fitted. Wear alone stops nothing, and no other kind of part does.
    """
    if seen.kind not in NEEDED_TO_RUN or seen.spare_fitted:
        return None
    if seen.condition == Condition.MISSING:
        return StopReason.MISSING
    if seen.condition == Condition.DAMAGED:
        return StopReason.DAMAGED
    return StopReason.SHORT if seen.count < seen.expected else None


def fault_from(seen: Seen, went_out_count: int | None = None) -> FaultFinding | None:
    """The fault that this part shows by itself, or None.

    `went_out_count` is how many went out (0 to 1000) when this is a return check, None at a pickup
    check. What is gone is counted from what went out; at a pickup, and for vital and guard parts
    always, from what belongs to the machine. A shortage that was already written down at pickup is
    thus not written down twice.

    Missing, damaged or fewer: a vital or guard part stops use, any other is to be used with care.
    Once a spare is fitted the machine may go, with care, until the spare is replaced. A consumable
    that is used up is no fault, a damaged one is. Wear alone is none.

    Raises WentOutCountOutOfRange.
    """
    if went_out_count is not None and not Seen.LEAST <= went_out_count <= Seen.MOST:
        raise WentOutCountOutOfRange(seen.part_key, went_out_count)
    short_by = _short_by(seen, went_out_count)
    reason = _fault_reason(seen, short_by)
    if reason is None:
        return None
    stops_use = seen.kind in NEEDED_TO_RUN and not seen.spare_fitted
    return FaultFinding(
        part_key=seen.part_key,
        severity=Severity.STOPS_USE if stops_use else Severity.USE_WITH_CARE,
        reason=reason,
        short_by=short_by,
        replace_spare=seen.spare_fitted,
    )


def _short_by(seen: Seen, went_out_count: int | None) -> int:
    if seen.kind == PartKind.CONSUMABLE:
        return 0
    baseline = seen.expected if went_out_count is None else went_out_count
    if seen.kind in NEEDED_TO_RUN:
        baseline = max(baseline, seen.expected)
    return max(0, baseline - seen.count)


def _fault_reason(seen: Seen, short_by: int) -> FaultReason | None:
    if seen.condition == Condition.DAMAGED:
        return FaultReason.DAMAGED
    if short_by:
        return FaultReason.FEWER if seen.count else FaultReason.MISSING
    if seen.spare_fitted and seen.kind != PartKind.CONSUMABLE:
        return FaultReason.SPARE_USED
    return None
