"""The season as a pressing stack: weeks that are over squeezed flat, this week tall, later weeks loose."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from django.db.models import Count, Q, Sum
from django.db.models.functions import TruncWeek

from kitshare.bookings.models import Booking, Season, Stage
from kitshare.rules.sizing_terms import YIELD_EXPECTED
from kitshare.web.season.weeks import STANDING, WEEK, monday_of, mondays


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One week, Monday to Sunday, or several to come that are all free. `place` is "over", "now" or "later"."""

    monday: date
    place: str
    outings: int
    juice_litres: Decimal
    bookings: tuple[Booking, ...] = ()
    weeks: int = 1

    @property
    def sunday(self) -> date:
        return self.monday + WEEK * self.weeks - timedelta(days=1)


def stack(*, season: Season, today: date) -> list[Layer]:
    """Every week of a season from the first to the last, in two queries.

    A booking lies in the week in which it goes out; one that is still out, or due back this week, lies in this week
    instead. The juice is expected juice: kilograms asked for, times the expected yield.
    """
    this_monday = monday_of(today)
    within = Booking.objects.filter(STANDING, out_on__gte=season.opens_on, out_on__lte=season.closes_on)
    sums = {
        row["week"]: (row["outings"], row["fruit_kg"])
        for row in within.order_by()
        .annotate(week=TruncWeek("out_on"))
        .values("week")
        .annotate(outings=Count("pk"), fruit_kg=Sum("fruit_kg"))
    }
    open_now = Q(out_on__gte=this_monday) | Q(back_on__gte=this_monday) & ~Q(stage=Stage.CLOSED) | Q(stage=Stage.OUT)
    shown = list(within.filter(open_now).select_related("village").order_by("out_on", "pk"))
    for booking in shown:
        if (monday := monday_of(booking.out_on)) < this_monday:
            outings, fruit_kg = sums[monday]
            sums[monday] = outings - 1, fruit_kg - booking.fruit_kg
    layers = [_layer(monday, this_monday=this_monday, sums=sums, shown=shown) for monday in mondays(season.period)]
    return list(_free_weeks_together(layers))


def _free_weeks_together(layers: list[Layer]) -> Iterator[Layer]:
    """Weeks to come in which nothing is asked lie together as one layer: they ask for no look each."""
    for is_free, run in groupby(layers, key=lambda layer: layer.place == "later" and not layer.outings):
        together = list(run)
        if is_free:
            yield replace(together[0], weeks=len(together))
        else:
            yield from together


def _layer(monday: date, *, this_monday: date, sums: dict[date, tuple[int, Decimal]], shown: list[Booking]) -> Layer:
    outings, fruit_kg = sums.get(monday, (0, Decimal(0)))
    place = "over" if monday < this_monday else "now" if monday == this_monday else "later"
    bookings: tuple[Booking, ...] = ()
    if place == "now":
        bookings = tuple(one for one in shown if one.out_on < monday + WEEK)
    elif place == "later":
        bookings = tuple(one for one in shown if monday <= one.out_on < monday + WEEK)
    return Layer(
        monday=monday,
        place=place,
        outings=len(bookings) if place == "now" else outings,
        juice_litres=fruit_kg * YIELD_EXPECTED,
        bookings=bookings,
    )
