"""A season in figures: outings, fruit and juice, hands and waste, for each village and each kit. Three queries."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from kitshare.bookings.models import Booking, BookingQuerySet, Season
from kitshare.bringing.steps import Step, counted, no_step
from kitshare.kits.models import Machine
from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.pressdays.recording import WENT_OUT

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What some outings come to. Fruit and juice are of the days recorded, and of no others."""

    name: str = ""
    key: int = 0
    outings: int = 0
    recorded: int = 0  # outings of which a day at least is recorded
    days_out: int = 0
    days_recorded: int = 0
    pressed_kg: Decimal = NOTHING
    waste_kg: Decimal = NOTHING
    litres_by_use: Mapping[str, Decimal] = field(default_factory=lambda: dict.fromkeys(USES, NOTHING))
    helper_hours: Decimal = NOTHING
    asked_kg_unrecorded: Decimal = NOTHING

    def __add__(self, other: "Figures") -> "Figures":
        sums = {name: getattr(self, name) + getattr(other, name) for name in ADDED}
        by_use = {use: self.litres_by_use[use] + other.litres_by_use[use] for use in USES}
        return replace(self, **sums, litres_by_use=by_use)

    @property
    def litres(self) -> Decimal:
        return sum(self.litres_by_use.values(), NOTHING)

    @property
    def litres_per_kg(self) -> Decimal | None:
        return self.litres / self.pressed_kg if self.pressed_kg else None

    @property
    def litres_per_helper_hour(self) -> Decimal | None:
        return self.litres / self.helper_hours if self.helper_hours else None


ADDED = (
    "outings",
    "recorded",
    "days_out",
    "days_recorded",
    "pressed_kg",
    "waste_kg",
    "helper_hours",
    "asked_kg_unrecorded",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFigures:
    """All outings of a season, and the same by village and by kit, each in the order of their names.

    An outing with machines of two kits counts in both, and once in `all`.
    """

    season: Season
    all: Figures
    villages: list[Figures]
    kits: list[Figures]

    def of_village(self, key: int) -> Figures | None:
        return next((one for one in self.villages if one.key == key), None)

    def of_kit(self, key: int) -> Figures | None:
        return next((one for one in self.kits if one.key == key), None)


def outings_of(season: Season) -> BookingQuerySet:
    """The bookings that went out within a season."""
    return Booking.objects.filter(stage__in=WENT_OUT, out_on__gte=season.opens_on, out_on__lte=season.closes_on)


def figures_of(seasons: Iterable[Season], step: Step = no_step) -> list[SeasonFigures]:
    """The figures of each season: the bookings that went out within it. Three queries for all of them."""
    seasons = list(seasons)
    if not seasons:
        return []
    bookings = list(
        Booking.objects.filter(
            stage__in=WENT_OUT,
            out_on__gte=min(season.opens_on for season in seasons),
            out_on__lte=max(season.closes_on for season in seasons),
        )
        .select_related("village")
        .order_by("pk")
    )
    keys = [booking.pk for booking in bookings]
    records: defaultdict[int, list[PressDayRecord]] = defaultdict(list)
    for record in PressDayRecord.objects.filter(booking__in=keys):
        records[record.booking_id].append(record)
    taken = Machine.objects.filter(bookings__in=keys).order_by("kit__name", "kit").distinct()
    kits: defaultdict[int, dict[int, str]] = defaultdict(dict)
    for booking, kit, name in taken.values_list("bookings", "kit", "kit__name"):
        kits[booking][kit] = name
    return [
        _of_season(
            season,
            counted([one for one in bookings if season.opens_on <= one.out_on <= season.closes_on], step),
            records,
            kits,
        )
        for season in seasons
    ]


def _of_season(
    season: Season,
    bookings: Iterable[Booking],
    records: Mapping[int, list[PressDayRecord]],
    kits: Mapping[int, dict[int, str]],
) -> SeasonFigures:
    all_of_it = Figures(name=season.name, key=season.pk)
    by_village: dict[int, Figures] = {}
    by_kit: dict[int, Figures] = {}
    for booking in bookings:
        one = _of_outing(booking, records.get(booking.pk, []))
        all_of_it += one
        village = booking.village
        by_village[village.pk] = by_village.get(village.pk, Figures(name=village.name, key=village.pk)) + one
        for key, name in kits.get(booking.pk, {}).items():
            by_kit[key] = by_kit.get(key, Figures(name=name, key=key)) + one
    return SeasonFigures(season=season, all=all_of_it, villages=_by_name(by_village), kits=_by_name(by_kit))


def _of_outing(booking: Booking, records: list[PressDayRecord]) -> Figures:
    sums: dict[str, Any] = {
        name: sum((getattr(record, name) or NOTHING for record in records), NOTHING)
        for name in ("pressed_kg", "waste_kg", "helper_hours")
    }
    return Figures(
        outings=1,
        recorded=int(bool(records)),
        days_out=max((booking.back_on - booking.out_on).days, 1),
        days_recorded=len(records),
        litres_by_use={use: sum((getattr(one, f"litres_{use}") for one in records), NOTHING) for use in USES},
        asked_kg_unrecorded=NOTHING if records else booking.fruit_kg,
        **sums,
    )


def _by_name(found: Mapping[int, Figures]) -> list[Figures]:
    return sorted(found.values(), key=lambda one: (one.name.casefold(), one.key))
