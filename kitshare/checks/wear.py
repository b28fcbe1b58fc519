"""How long a part may be expected to last yet, from how long such parts lasted by the lines of checks."""

from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

from kitshare.checks.models import CheckKind, CheckLine, Outcome
from kitshare.kits.models import MachineKind, Part
from kitshare.rules.checklists import Condition, PartKind
from kitshare.rules.lives import Lives, Sighting, lives
from kitshare.rules.wear import Life, Remaining, remaining

ENDS_OUTING = (CheckKind.RETURN, CheckKind.RELAY)
NONE_SEEN = Lives(ended=(), age=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """A part in use for `age` outings, none where it is not whole; what it may last yet, where enough lives ended."""

    age: int | None
    ended: int
    remaining: Remaining | None


def is_reckoned(part: Part) -> bool:
    """Whether lives of it can be told apart: of what travels in a number or is used up they cannot."""
    return part.expected_count == 1 and part.kind != PartKind.CONSUMABLE


def wear_of(part: Part) -> Wear:
    """What the checks say of a part and its like: those of its name on machines of the same kind. One query."""
    by_part = _lives_of_its_like(part)
    own = by_part.pop(part.pk, NONE_SEEN)
    others = [life for each in by_part.values() for life in each.all]
    known: list[Life] = [*own.ended, *others]
    ended = sum(life.ended for life in known)
    found = remaining(known, age=own.age) if own.age is not None else None
    return Wear(age=own.age, ended=ended, remaining=found)


def _lives_of_its_like(part: Part) -> dict[int, Lives]:
    """Lives by the key of each such part, in use or retired."""
    lines = CheckLine.objects.filter(part__name__iexact=part.name, part__expected_count=1)
    if part.machine.kind == MachineKind.OTHER:
        lines = lines.filter(part__machine=part.machine_id)
    else:
        lines = lines.filter(part__machine__kind=part.machine.kind)
    told = lines.order_by("part_id", "check_of__done_at", "check_of_id").values_list(
        "part_id", "condition", "spare_fitted", "check_of__kind", "check_of__outcome"
    )
    return {
        key: lives(
            Sighting(
                condition=Condition(condition),
                ends_outing=kind in ENDS_OUTING and outcome == Outcome.HANDED_OVER,
                spare_fitted=spare_fitted,
            )
            for _key, condition, spare_fitted, kind, outcome in of_one
        )
        for key, of_one in groupby(told, key=itemgetter(0))
    }
