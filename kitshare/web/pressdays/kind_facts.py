"""What a kind of container may hold, and why it may not."""

from dataclasses import dataclass

from kitshare.people.models import Scheme
from kitshare.pressdays.models import ContainerKind, UseChoice
from kitshare.pressdays.planning import recommendation_of
from kitshare.pressdays.words import container_refusal
from kitshare.rules.containers import Use, refusals


@dataclass(frozen=True, slots=True, kw_only=True)
class MayHold:
    """One use, and every reason why this kind may not be used so; none if it may."""

    use: str
    reasons: list[str]


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
