"""A press day as it lies ahead: the juice to expect from what a village wants, and the containers for all of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from kitshare.bookings.models import Booking
from kitshare.people.models import Scheme
from kitshare.pressdays.learning import Lessons, belief_for, lessons_for
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.wanted import Part, Wanted, wanted_for
from kitshare.rules.breakage import Breakage
from kitshare.rules.container_choice import Choice, Filling, Need, Supply, choose
from kitshare.rules.containers import Refusal, Use, refusals
from kitshare.rules.fruit import Fruit, fruit
from kitshare.rules.heat_verdict import Recommendation
from kitshare.rules.shares import HUNDRED
from kitshare.rules.yields import Belief, Evidence, JuiceForecast, forecast

MOST_TOGETHER = 6
"""Wishes beyond this many are worked out each by itself: together they would take the search too long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A part of the juice whose kind of container may not hold it, and why."""

    part: Part
    reasons: tuple[Refusal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToBring:
    """Containers of one kind to bring: of the village's own, borrowed from the scheme, and bought."""

    kind: ContainerKind
    fillings: tuple[Filling, ...]
    own: int
    borrowed: int
    bought: int

    @property
    def filled(self) -> int:
        return sum(filling.filled for filling in self.fillings)

    @property
    def spares(self) -> int:
        """Over those filled, for what breaks."""
        return sum(filling.spares for filling in self.fillings)

    @property
    def number(self) -> int:
        return self.filled + self.spares

    @property
    def crates(self) -> int:
        return -(-self.number // self.kind.per_crate)

    @property
    def caps(self) -> int:
        return sum(filling.caps for filling in self.fillings)

    @property
    def full_kg(self) -> Decimal:
        """Weight of all that are filled."""
        return sum((filling.full_kg for filling in self.fillings), Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """A press day as it lies ahead of a village.

    `litres` by use are those expected, `most_litres` those at the upper bound, which the fillings hold. A part whose
    kind may not hold it is in `refused`, and then no filling is for it; parts over a hundred have no filling at all.
    """

    booking: Booking
    wanted: Wanted
    fruit: Fruit
    belief: Belief
    evidence: Evidence
    juice: JuiceForecast
    litres: Mapping[Use, Decimal]
    most_litres: Mapping[Use, Decimal]
    fillings: tuple[Filling, ...]
    to_bring: tuple[ToBring, ...]
    least_proved: bool
    refused: tuple[Refused, ...]
    heat: Recommendation
    breakage: Breakage

    @property
    def pressed_kg(self) -> Decimal:
        """Kilograms that go into the mill: what is picked, less what is sorted out."""
        return self.fruit.pressed_kg


def recommendation_of(scheme: Scheme) -> Recommendation:
    """The hold that this scheme goes by."""
    return Recommendation(
        target_c=float(scheme.heat_target_c),
        hold_minutes=float(scheme.heat_hold_minutes),
        source=scheme.heat_source,
    )


def juice_of(
    booking: Booking, wanted: Wanted, *, learned: tuple[Belief, Evidence] | None = None
) -> tuple[Fruit, Belief, Evidence, JuiceForecast]:
    """The fruit that a village means to press, and the juice to expect of it by what is believed and why.

    `learned` is what the recorded days teach, if it was asked already. Raises what `rules.fruit` and `rules.yields`
    raise for fruit that cannot be pressed.
    """
    loss = Decimal(wanted.sorted_out_percent) / HUNDRED
    there = fruit(booking.fruit_kg if wanted.fruit_kg is None else wanted.fruit_kg, sorting_loss=loss)
    belief, evidence = learned or belief_for(booking, fruit=wanted.fruit_word)
    if wanted.yield_expected is not None:
        belief = replace(belief, mean=float(wanted.yield_expected))
    return there, belief, evidence, forecast(float(there.pressed_kg), belief)


def ahead_of(
    booking: Booking,
    *,
    scheme: Scheme,
    wanted: Wanted | None = None,
    learned: Lessons | None = None,
) -> Ahead:
    """Look ahead at the press day of a booking, by its saved plan or by what somebody is trying out.

    The containers hold the juice at the upper bound. Takes and raises what `juice_of` does.
    """
    if wanted is None:
        wanted = wanted_for(booking, ContainerKind.objects.order_by("position", "pk"))
    learned = learned or lessons_for(booking, fruit=wanted.fruit_word)
    there, belief, evidence, juice = juice_of(booking, wanted, learned=(learned.belief, learned.evidence))
    breakage = learned.breakage(scheme.breakage_percent)
    heat = recommendation_of(scheme)
    refused = _refused(wanted, heat)
    choices = _choose(wanted, [one.part for one in refused], juice, heat, breakage.over)
    fillings = tuple(filling for choice in choices for filling in choice.fillings)
    return Ahead(
        booking=booking,
        wanted=wanted,
        fruit=there,
        belief=belief,
        evidence=evidence,
        juice=juice,
        litres=_by_use(wanted, juice.expected),
        most_litres=_by_use(wanted, juice.high),
        fillings=fillings,
        to_bring=tuple(_to_bring(wanted, fillings)),
        least_proved=all(choice.least_proved for choice in choices),
        refused=refused,
        heat=heat,
        breakage=breakage,
    )


def _refused(wanted: Wanted, heat: Recommendation) -> tuple[Refused, ...]:
    judged = ((part, refusals(part.kind.as_rule, part.use, heat_c=heat.target_c)) for part in wanted.parts)
    return tuple(Refused(part=part, reasons=reasons) for part, reasons in judged if reasons)


def _litres(part: Part, litres: float) -> Decimal:
    # Rounded up, so that no thimble of juice is without a container for the sake of the arithmetic.
    return Decimal(str(round(litres, 6))) * part.percent / HUNDRED + Decimal("0.000001")


def _by_use(wanted: Wanted, litres: float) -> dict[Use, Decimal]:
    found: dict[Use, Decimal] = {}
    for part in wanted.parts:
        found[part.use] = found.get(part.use, Decimal(0)) + _litres(part, litres)
    return found


def _choose(
    wanted: Wanted, out: Sequence[Part], juice: JuiceForecast, heat: Recommendation, breakage: Decimal
) -> list[Choice]:
    """What to fill: all parts together, so that what is at hand goes where it saves most."""
    parts = [part for part in wanted.parts if part not in out and part.percent and wanted.remainder >= 0]
    kinds = {part.kind: 0 for part in parts} | dict(wanted.at_hand)
    supplies = {kind: Supply(kind=kind.as_rule, at_hand=number) for kind, number in kinds.items()}
    needs = [
        Need(use=part.use, litres=_litres(part, juice.high), more_of=frozenset([str(part.kind.pk)])) for part in parts
    ]
    if len(parts) > MOST_TOGETHER:
        # Each by itself, and what is at hand of a kind goes into the first part that is meant for it.
        firsts = {part.kind: part for part in reversed(parts)}
        alone = [
            [supplies[part.kind] if firsts[part.kind] is part else replace(supplies[part.kind], at_hand=0)]
            for part in parts
        ]
        return [
            choose([need], supply, heat_c=heat.target_c, breakage=breakage)
            for need, supply in zip(needs, alone, strict=True)
        ]
    return [choose(needs, list(supplies.values()), heat_c=heat.target_c, breakage=breakage)]


def _to_bring(wanted: Wanted, fillings: Sequence[Filling]) -> list[ToBring]:
    kinds = {str(kind.pk): kind for kind in [*(part.kind for part in wanted.parts), *wanted.at_hand]}
    found = []
    for key, kind in kinds.items():
        ours = tuple(filling for filling in fillings if filling.kind.key == key)
        if ours:
            number = sum(filling.filled + filling.spares for filling in ours)
            own = min(wanted.at_hand.get(kind, 0), number)
            borrowed = min(kind.lent, number - own)
            found.append(ToBring(kind=kind, fillings=ours, own=own, borrowed=borrowed, bought=number - own - borrowed))
    return found
