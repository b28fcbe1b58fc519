"""What a kind of container may hold, and why it may not."""

from dataclasses import dataclass
from decimal import Decimal

from kitshare.people.models import Scheme
from kitshare.pressdays.models import ContainerKind, UseChoice
from kitshare.pressdays.planning import recommendation_of
from kitshare.pressdays.words import container_refusal
from kitshare.rules.containers import Use, refusals
from kitshare.rules.lifting import together
from kitshare.rules.sizing_terms import JUICE_KG_PER_LITRE
from kitshare.web.lifting import Weight, weight_in_words


@dataclass(frozen=True, slots=True, kw_only=True)
class MayHold:
    """One use, and every reason why this kind may not be used so; none if it may."""

    use: str
    reasons: list[str]


def crate_weight(kind: ContainerKind, use: Use) -> Weight | None:
    """What a full crate of such containers weighs, or a full one where they travel singly; a crate is never weighed."""
    juice_kg = kind.as_rule.fill_litres(use) * JUICE_KG_PER_LITRE
    crate: list[tuple[Decimal | None, int]] = [(None, 1)] if kind.per_crate > 1 else []
    return weight_in_words(together([(kind.tare_kg or None, kind.per_crate), (juice_kg, kind.per_crate), *crate]))


def may_hold(kind: ContainerKind, scheme: Scheme) -> list[MayHold]:
    """Each use of the juice, in the order in which plans ask for them."""
    heat_c = recommendation_of(scheme).target_c
    return [
        MayHold(
            use=str(use.label),
            reasons=[container_refusal(one) for one in refusals(kind.as_rule, Use(use), heat_c=heat_c)],
        )
        for use in UseChoice
    ]
