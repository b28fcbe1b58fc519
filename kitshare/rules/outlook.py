"""The whole of a press day from a few numbers: juice, containers, supplies, heat and clock, each by its own rule.

For a first look before a village has rows of its own, by page or by command. Where a number is not given, the usual one
of its rule is taken.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kitshare.rules import supplies
from kitshare.rules.container_choice import Filling, Need, NotEnoughContainers, Supply, choose
from kitshare.rules.containers import USUAL_KINDS, Kind, Material, Use
from kitshare.rules.fruit import fruit
from kitshare.rules.heat_verdict import DEFAULT_RECOMMENDATION, Recommendation
from kitshare.rules.heating import Bottle
from kitshare.rules.pressday import DayGiven, DayPlan, plan_day
from kitshare.rules.sizing_terms import KindTwice, SharesDoNotSum
from kitshare.rules.yard import Bath, BathPlan, ToHeat, bath_plan, heat_stage, in_order
from kitshare.rules.yields import PUBLISHED, Belief, JuiceForecast, forecast

USUAL_HELPERS = 6
LONG_DAY_MINUTES = 600.0

USUAL_USE: Mapping[str, Use] = {
    "bottle_500": Use.HEATED,
    "bottle_750": Use.HEATED,
    "bottle_1000": Use.HEATED,
    "bag_5": Use.HEATED,
    "demijohn_5": Use.TO_FERMENT,
    "vat_25": Use.TO_FERMENT,
    "pet_2": Use.FRESH,
    "can_10": Use.FRESH,
    "tub_1": Use.FROZEN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """The share of the juice, 0 to 1, that goes into a kind of container for a use."""

    kind: Kind
    use: Use
    share: Decimal


USUAL_MIX = (Part(kind=next(k for k in USUAL_KINDS if k.key == "bottle_750"), use=Use.HEATED, share=Decimal(1)),)


class Caution(StrEnum):
    """What a village should hear beside the numbers."""

    NO_RECORDED_DAYS = "no_recorded_days"
    COOL_BATH_FIRST = "cool_bath_first"
    JUICE_WAITS_LONG = "juice_waits_long"
    LONG_DAY = "long_day"
    HEAVY_CONTAINER = "heavy_container"
    GLASS_IN_FROST = "glass_in_frost"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What to expect of the day and what to bring. Pomace and acid are for the juice expected, sacks for the least.

    `baths` are the batches of each kind that is heated, in their order.
    """

    juice: JuiceForecast
    fillings: tuple[Filling, ...]
    pomace_kg: Decimal
    sacks: int
    ascorbic_acid: supplies.Ascorbic
    water_litres: Decimal
    baths: tuple[BathPlan, ...]
    day: DayPlan
    warnings: tuple[tuple[Caution, str], ...]


def outlook(
    fruit_kg: Decimal,
    *,
    mix: Sequence[Part] = USUAL_MIX,
    helpers: int = USUAL_HELPERS,
    recommendation: Recommendation = DEFAULT_RECOMMENDATION,
    belief: Belief = PUBLISHED,
) -> Outlook:
    """Look ahead at a day of 1 to 20,000 kg and 1 to 200 helpers. Containers hold the juice at the upper bound.

    Raises what the rules raise: `SizingRefused` for fruit and shares, `NotEnoughContainers` for a kind that may not
    hold its juice, `water.OutOfRange` for the rest.
    """
    pressed = fruit(fruit_kg).pressed_kg
    _require_whole(mix)
    juice = forecast(float(pressed), belief)
    fillings = tuple(f for part in mix if part.share for f in _filled(part, juice.high, recommendation.target_c))
    heated = [part for part in mix if part.use is Use.HEATED and part.share]
    heated_share = float(sum(part.share for part in heated))
    baths = _baths(heated, juice.expected, recommendation)
    stage = heat_stage([baths], share=min(heated_share, 1.0)) if baths else None
    day = plan_day(DayGiven(fruit_kg=float(pressed), juice_litres=juice.expected, helpers=helpers, heat=stage))
    expected, least = Decimal(str(round(juice.expected, 6))), Decimal(str(round(juice.low, 6)))
    bath_litres = Decimal(str(baths[0].bath.water_litres)) if baths else Decimal(0)
    return Outlook(
        juice=juice,
        fillings=fillings,
        pomace_kg=supplies.pomace(pressed, expected).kg,
        sacks=supplies.pomace(pressed, least).sacks,
        ascorbic_acid=supplies.ascorbic_acid(expected),
        water_litres=supplies.water_litres(pressed, bath_litres=bath_litres),
        baths=baths,
        day=day,
        warnings=tuple(_warnings(juice, fillings, baths, day)),
    )


def _require_whole(mix: Sequence[Part]) -> None:
    keys = [f"{part.kind.key}:{part.use}" for part in mix]
    for key in keys:
        if keys.count(key) > 1:
            raise KindTwice(field="mix", value=key, kind_key=key)
    total = sum((part.share for part in mix), Decimal(0))
    if not total.is_finite() or abs(total - 1) > Decimal("0.000001") or any(part.share < 0 for part in mix):
        raise SharesDoNotSum(field="mix", value=total)


def _filled(part: Part, most_litres: float, heat_c: float) -> tuple[Filling, ...]:
    # Rounded up, so that no thimble of juice is without a container for the sake of the arithmetic.
    litres = Decimal(str(round(most_litres, 6))) * part.share + Decimal("0.000001")
    return choose([Need(use=part.use, litres=litres)], [Supply(kind=part.kind)], heat_c=heat_c).fillings


def _baths(heated: Sequence[Part], litres: float, recommendation: Recommendation) -> tuple[BathPlan, ...]:
    """The usual bath with each heated kind by itself, in the order in which they are heated."""
    kinds = in_order(
        ToHeat(
            key=part.kind.key,
            brim_litres=float(part.kind.litres),
            bottle=Bottle(
                juice_litres=float(part.kind.fill_litres(Use.HEATED)),
                glass_kg=float(part.kind.tare_kg) if part.kind.material is Material.GLASS else 0.0,
            ),
            juice_litres=litres * float(part.share),
        )
        for part in heated
    )
    hold = recommendation.hold_minutes
    return tuple(bath_plan(Bath(), kind, target_c=recommendation.target_c, hold_minutes=hold) for kind in kinds)


def _warnings(
    juice: JuiceForecast, fillings: Sequence[Filling], baths: Sequence[BathPlan], day: DayPlan
) -> list[tuple[Caution, str]]:
    """Each with what it is about: hours, degrees or the kind of container."""
    found: list[tuple[Caution, str]] = []
    if not juice.days:
        found.append((Caution.NO_RECORDED_DAYS, ""))
    heated = len(day.heated)
    if heated > 1 and (cool := [bath.batches for bath in baths if bath.batches.cool_bath_first]):
        found.append((Caution.COOL_BATH_FIRST, f"{cool[0].later.bath_from_c:.0f}"))
    if day.waits_long:
        found.append((Caution.JUICE_WAITS_LONG, f"{day.longest_wait / 60:.1f}"))
    if day.finish > LONG_DAY_MINUTES:
        found.append((Caution.LONG_DAY, f"{day.finish / 60:.1f}"))
    for filling in fillings:
        if filling.kind.heavy(filling.use):
            found.append((Caution.HEAVY_CONTAINER, filling.kind.key))
        if filling.use is Use.FROZEN and filling.kind.material is Material.GLASS:
            found.append((Caution.GLASS_IN_FROST, filling.kind.key))
    return found


__all__ = [
    "USUAL_HELPERS",
    "USUAL_MIX",
    "USUAL_USE",
    "Caution",
    "NotEnoughContainers",
    "Outlook",
    "Part",
    "outlook",
]
