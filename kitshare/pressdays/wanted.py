"""What a village wants of its press day, or what the scheme assumes where nobody has planned yet."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from kitshare.bookings.models import Booking
from kitshare.pressdays.models import ContainerKind, PressPlan
from kitshare.rules.containers import Use
from kitshare.rules.shares import HUNDRED, whole_percents


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of the juice, in parts of a hundred, what becomes of it, and the kind of container meant for it."""

    use: Use
    kind: ContainerKind
    percent: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a village wants of its day, saved or not. `plan` is the saved one that it comes from, if any.

    `fruit_kg` is what it now expects to pick, where that is not what it booked for.
    """

    parts: tuple[Part, ...]
    at_hand: Mapping[ContainerKind, int]
    yield_expected: Decimal | None = None
    fruit_word: str = ""
    sorted_out_percent: int = 0
    fruit_kg: Decimal | None = None
    plan: PressPlan | None = None

    @property
    def says(self) -> tuple[object, ...]:
        """All that is kept of it, to be compared."""
        parts = {(part.use, part.kind): part.percent for part in self.parts}
        own = {kind: number for kind, number in self.at_hand.items() if number}
        return self.yield_expected, self.fruit_word, self.sorted_out_percent, parts, own

    @property
    def remainder(self) -> int:
        """Parts in a hundred still to share out; below 0 when there are too many."""
        return HUNDRED - sum(part.percent for part in self.parts)


def usual_mix(kinds: Iterable[ContainerKind]) -> dict[ContainerKind, int]:
    """The scheme's usual mix of the kinds in use; everything into the first kind where none has parts in it."""
    in_use = [kind for kind in kinds if kind.retired_on is None]
    if not in_use:
        return {}
    weights = [kind.usual_parts for kind in in_use]
    if not any(weights):
        weights[0] = 1
    return dict(zip(in_use, whole_percents(weights), strict=True))


def wanted_for(booking: Booking, kinds: Iterable[ContainerKind]) -> Wanted:
    """The saved plan of a booking, or the scheme's usual mix. `kinds` are all there are, retired too."""
    plan = PressPlan.objects.filter(booking=booking.pk).select_related("changed_by").first()
    if plan is None:
        mix = usual_mix(kinds)
        parts = tuple(Part(use=Use(kind.usual_use), kind=kind, percent=mix[kind]) for kind in mix if mix[kind])
        return Wanted(parts=parts, at_hand={})
    by_key = {kind.pk: kind for kind in kinds}
    return Wanted(
        parts=tuple(
            Part(use=Use(share.use), kind=by_key[share.kind_id], percent=share.percent)
            for share in plan.shares.order_by("pk")
        ),
        at_hand={by_key[own.kind_id]: own.number for own in plan.at_hand.order_by("pk")},
        yield_expected=plan.yield_expected,
        fruit_word=plan.fruit_word,
        sorted_out_percent=plan.sorted_out_percent,
        plan=plan,
    )
