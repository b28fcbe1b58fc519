"""What a village plans for its day, or what the scheme assumes for it, and the sizing that follows."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from kitshare.bookings.models import Booking
from kitshare.pressdays.models import ContainerKind, PressPlan
from kitshare.rules import sizing_terms as terms
from kitshare.rules.shares import HUNDRED, whole_percents
from kitshare.rules.sizing import Sizing, size_day

# The part of the juice that nobody has given a container yet, as if it stayed in one big vessel.
UNSHARED = "unshared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A yield and a mix, saved or not: `plan` is the saved one they come from, if any."""

    yield_expected: Decimal
    shares: Mapping[ContainerKind, int]
    plan: PressPlan | None = None

    @property
    def remainder(self) -> int:
        """Parts in a hundred still to share out; below 0 when there are too many."""
        return HUNDRED - sum(self.shares.values())


def usual_mix(kinds: Iterable[ContainerKind]) -> dict[ContainerKind, int]:
    """The scheme's usual mix of the kinds in use; everything into the first kind where none has parts in it."""
    in_use = [kind for kind in kinds if kind.retired_on is None]
    if not in_use:
        return {}
    weights = [kind.usual_parts for kind in in_use]
    if not any(weights):
        weights[0] = 1
    return dict(zip(in_use, whole_percents(weights), strict=True))


def draft_of(booking: Booking, kinds: Iterable[ContainerKind]) -> Draft:
    """The saved plan of a booking, or the scheme's usual yield and mix. `kinds` are all there are, retired too."""
    plan = PressPlan.objects.filter(booking=booking).select_related("changed_by").first()
    if plan is None:
        return Draft(yield_expected=terms.YIELD_EXPECTED, shares=usual_mix(kinds))
    by_key = {kind.pk: kind for kind in kinds}
    shares = {by_key[share.kind_id]: share.percent for share in plan.shares.all()}
    return Draft(yield_expected=plan.yield_expected, shares=shares, plan=plan)


def size(draft: Draft, *, fruit_kg: Decimal, pomace_sack_kg: Decimal) -> Sizing:
    """Size a day by a draft. What is not shared out counts as kind UNSHARED; so does all, when there is too much.

    Raises SizingRefused.
    """
    shares = {kind: percent for kind, percent in draft.shares.items() if percent}
    if draft.remainder < 0:
        shares = {}
    parts = [
        terms.ContainerShare(kind=_as_rule(kind), share=Decimal(percent) / HUNDRED) for kind, percent in shares.items()
    ]
    left = HUNDRED - sum(shares.values())
    if left:
        vessel = terms.ContainerKind(key=UNSHARED, litres=Decimal(1), fill_fraction=Decimal(1))
        parts.append(terms.ContainerShare(kind=vessel, share=Decimal(left) / HUNDRED))
    known = terms.SizingInput(fruit_kg=fruit_kg, mix=tuple(parts), pomace_sack_kg=pomace_sack_kg)
    return size_day(known.expecting(draft.yield_expected))


def _as_rule(kind: ContainerKind) -> terms.ContainerKind:
    return terms.ContainerKind(
        key=str(kind.pk), litres=kind.litres, fill_fraction=kind.fill_fraction, reused_glass=kind.reused_glass
    )
