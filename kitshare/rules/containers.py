"""Containers for the juice: which kind may hold what, and how full.

Kinds are the scheme's own rows; the few here are for planning without a database. Litres and kilograms are `Decimal`,
since containers are counted and bought.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kitshare.rules.sizing_terms import (
    FILL_FOR_FREEZING,
    FILL_FOR_HEATING,
    JUICE_KG_PER_LITRE,
    LIFTING_GUIDE_KG,
    OutOfRange,
)
from kitshare.rules.water import GLASS_VOLUME_PER_K, TYPICAL_BRIX, freezing_growth, juice_growth, require_between

FILL_TEMPERATURE_C = 10.0
"""Juice on a cool autumn day; colder juice has more to grow (our choice)."""


class Use(StrEnum):
    """What becomes of the juice."""

    FRESH = "fresh"
    FROZEN = "frozen"
    HEATED = "heated"
    TO_FERMENT = "to_ferment"


class Material(StrEnum):
    """What the juice touches."""

    GLASS = "glass"
    PET = "pet"
    HDPE = "hdpe"
    PP = "pp"
    STAINLESS_STEEL = "stainless_steel"
    FILM = "film"
    BARE_STEEL = "bare_steel"
    GLAZED_POTTERY = "glazed_pottery"


# Highest temperature in degrees Celsius of what is filled in, by material, unless a maker rates the
# container: a plastics distributor's table (HDPE, PP), the hot-fill limit of ordinary PET bottles. Film
# bags differ too much to have a number. Glass and stainless steel bear boiling juice.
HIGHEST_FILL_C: Mapping[Material, Decimal | None] = {
    Material.GLASS: Decimal(100),
    Material.PET: Decimal(49),
    Material.HDPE: Decimal("62.8"),
    Material.PP: Decimal("73.9"),
    Material.STAINLESS_STEEL: Decimal(100),
    Material.FILM: None,
    Material.BARE_STEEL: Decimal(100),
    Material.GLAZED_POTTERY: Decimal(100),
}

# Fill as a share of the brim volume. Fresh and fermenting: common practice, no source.
FILL: Mapping[Use, Decimal] = {
    Use.FRESH: Decimal("0.98"),
    Use.FROZEN: FILL_FOR_FREEZING,
    Use.HEATED: FILL_FOR_HEATING,
    Use.TO_FERMENT: Decimal("0.90"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of container.

    `litres` to the brim (0.05 to 1200); `highest_fill_c` if its maker rates it; `fill_fraction` (0.5 to 1) if it
    differs from common practice; `tare_kg` empty (0 to 200); `per_crate` how many travel together (1 to 100). Raises
    `OutOfRange`.
    """

    key: str
    litres: Decimal
    material: Material
    food_grade: bool = True
    highest_fill_c: Decimal | None = None
    fill_fraction: Decimal | None = None
    tare_kg: Decimal = Decimal(0)
    per_crate: int = 1
    reused: bool = False
    capped: bool = True

    def __post_init__(self) -> None:
        """Refuse what is no container."""
        _require(self.key, "litres", self.litres, "0.05", "1200")
        _require(self.key, "fill_fraction", self.fill_fraction, "0.5", "1")
        _require(self.key, "highest_fill_c", self.highest_fill_c, "0", "150")
        _require(self.key, "tare_kg", self.tare_kg, "0", "200")
        _require(self.key, "per_crate", Decimal(self.per_crate), "1", "100")

    @property
    def limit_c(self) -> Decimal | None:
        """Highest temperature of what is filled in: the maker's word, else the material's; None if nobody knows."""
        return self.highest_fill_c if self.highest_fill_c is not None else HIGHEST_FILL_C[self.material]

    def fill_for(self, use: Use) -> Decimal:
        """Share of the brim volume to fill. Its own level never goes over the headspace that freezing needs."""
        usual = FILL[use]
        own = usual if self.fill_fraction is None else self.fill_fraction
        return min(own, usual) if use is Use.FROZEN else own

    def fill_litres(self, use: Use) -> Decimal:
        """Litres of juice in one."""
        return self.litres * self.fill_for(use)

    def full_kg(self, use: Use) -> Decimal:
        """Weight of one when filled, with juice of 12 Bx."""
        return self.tare_kg + self.fill_litres(use) * JUICE_KG_PER_LITRE

    def heavy(self, use: Use) -> bool:
        """Whether a full one is over the lifting guide for one person."""
        return self.full_kg(use) > LIFTING_GUIDE_KG


def _require(key: str, field: str, value: Decimal | None, low: str, high: str) -> None:
    bounds = Decimal(low), Decimal(high)
    if value is not None and (not value.is_finite() or not bounds[0] <= value <= bounds[1]):
        raise OutOfRange(field=field, value=value, bounds=bounds, kind_key=key)


class RefusalCode(StrEnum):
    """Why a kind may not hold the juice."""

    NOT_FOOD_GRADE = "not_food_grade"
    GLAZE_DISSOLVES = "glaze_dissolves"
    STEEL_CORRODES = "steel_corrodes"
    LIMIT_UNDER_HEAT = "limit_under_heat"
    LIMIT_UNKNOWN = "limit_unknown"
    HEADSPACE_TOO_SMALL = "headspace_too_small"


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A code with what the container has and what is wanted (degrees, or a share of its volume)."""

    code: RefusalCode
    has: Decimal | None = None
    wanted: Decimal | None = None


def grown_fill(kind: Kind, use: Use, *, heat_c: float, fill_c: float = FILL_TEMPERATURE_C) -> float:
    """Share of the brim volume that the juice takes at its hottest, or frozen; over one it runs out or bursts.

    Juice grows from `fill_c` to `heat_c` (IAPWS-IF97 and Choi-Okos carbohydrate), and glass grows with it. Raises
    `water.OutOfRange` beyond 0 to 95 C.
    """
    fill = float(kind.fill_for(use))
    if use is Use.FROZEN:
        return fill * (1 + freezing_growth(TYPICAL_BRIX))
    if use is not Use.HEATED:
        return fill
    room = 1 + (GLASS_VOLUME_PER_K * (heat_c - fill_c) if kind.material is Material.GLASS else 0.0)
    return fill * (1 + juice_growth(fill_c, heat_c)) / room


def refusals(kind: Kind, use: Use, *, heat_c: float, fill_c: float = FILL_TEMPERATURE_C) -> tuple[Refusal, ...]:
    """Every reason why this kind may not hold juice for this use, heated to `heat_c`; empty if it may.

    Bare steel and glaze are refused for any use, because acid dissolves them (common practice).
    """
    require_between("heat_c", heat_c, 0.0, 95.0)
    found: list[Refusal] = []
    if not kind.food_grade:
        found.append(Refusal(code=RefusalCode.NOT_FOOD_GRADE))
    if kind.material is Material.GLAZED_POTTERY:
        found.append(Refusal(code=RefusalCode.GLAZE_DISSOLVES))
    if kind.material is Material.BARE_STEEL:
        found.append(Refusal(code=RefusalCode.STEEL_CORRODES))
    if use is Use.HEATED:
        wanted = Decimal(str(heat_c))
        if kind.limit_c is None:
            found.append(Refusal(code=RefusalCode.LIMIT_UNKNOWN, wanted=wanted))
        elif kind.limit_c < wanted:
            found.append(Refusal(code=RefusalCode.LIMIT_UNDER_HEAT, has=kind.limit_c, wanted=wanted))
    grown = grown_fill(kind, use, heat_c=heat_c, fill_c=fill_c)
    if grown > 1:
        has = 1 - kind.fill_for(use)
        wanted = Decimal(str(round(1 - float(kind.fill_for(use)) / grown, 4)))
        found.append(Refusal(code=RefusalCode.HEADSPACE_TOO_SMALL, has=has, wanted=wanted))
    return tuple(found)


# For planning before a scheme has rows of its own; sizes and weights are common ones, from memory.
_GLASS = Material.GLASS
USUAL_KINDS = (
    Kind(key="bottle_500", litres=Decimal("0.53"), material=_GLASS, tare_kg=Decimal("0.40"), per_crate=20, reused=True),
    Kind(key="bottle_750", litres=Decimal("0.78"), material=_GLASS, tare_kg=Decimal("0.50"), per_crate=12, reused=True),
    Kind(key="bottle_1000", litres=Decimal("1.03"), material=_GLASS, tare_kg=Decimal("0.60"), per_crate=6, reused=True),
    Kind(key="demijohn_5", litres=Decimal("5.0"), material=_GLASS, tare_kg=Decimal("2.2"), reused=True),
    Kind(
        key="bag_5", litres=Decimal("5.2"), material=Material.FILM, highest_fill_c=Decimal(85), tare_kg=Decimal("0.1")
    ),
    Kind(key="pet_2", litres=Decimal("2.05"), material=Material.PET, tare_kg=Decimal("0.05"), per_crate=6),
    Kind(key="can_10", litres=Decimal("10.5"), material=Material.HDPE, tare_kg=Decimal("0.6")),
    Kind(key="tub_1", litres=Decimal("1.0"), material=Material.PP, tare_kg=Decimal("0.04"), per_crate=12, capped=False),
    Kind(key="vat_25", litres=Decimal("25"), material=Material.STAINLESS_STEEL, tare_kg=Decimal("4"), capped=False),
)
