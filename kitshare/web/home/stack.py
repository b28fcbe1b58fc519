"""The season as a pressing stack: weeks that are over squeezed flat, this week tall, later weeks loose."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from django.db.models import Count, Q, Sum
from django.db.models.functions import TruncWeek

from kitshare.bookings.models import Booking, Season, Stage
from kitshare.pressdays.juice import is_recorded, juice_litres
from kitshare.web.season.weeks import STANDING, WEEK, monday_of, mondays


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One week, Monday to Sunday, or several to come that are all free. `place` is "over", "now" or "later"."""

    monday: date
    place: str
    outings: int
    juice_litres: Decimal
    is_estimate: bool  # whether some of the juice is expected rather than recorded
    bookings: tuple[Booking, ...] = ()
    weeks: int = 1

    @property
    def sunday(self) -> date:
        return self.monday + WEEK * self.weeks - timedelta(days=1)


def stack(*, season: Season, today: date) -> list[Layer]:
    """Every week of a season from the first to the last, in two queries.

    A booking lies in the week in which it goes out; one that is still out, or due back this week, lies in this week
    instead. The juice is what was recorded, and expected juice (kilograms asked for, times the expected yield) where
    nothing was.
    """
    this_monday = monday_of(today)
    within = Booking.objects.filter(STANDING, out_on__gte=season.opens_on, out_on__lte=season.closes_on)
    sums = {
        row["week"]: (row["outings"], row["juice"], row["recorded"])
        for row in within.order_by()
        .annotate(week=TruncWeek("out_on"), litres=juice_litres(), is_recorded=is_recorded())
        .values("week")
        .annotate(outings=Count("pk"), juice=Sum("litres"), recorded=Count("pk", filter=Q(is_recorded=True)))
    }
    open_now = Q(out_on__gte=this_monday) | Q(back_on__gte=this_monday) & ~Q(stage=Stage.CLOSED) | Q(stage=Stage.OUT)
    open_ones = within.filter(open_now).annotate(litres=juice_litres(), is_recorded=is_recorded())
    shown = list(open_ones.select_related("village").order_by("out_on", "pk"))
    for booking in shown:
        if (monday := monday_of(booking.out_on)) < this_monday:
            outings, juice, recorded = sums[monday]
            sums[monday] = outings - 1, juice - booking.litres, recorded - booking.is_recorded  # type: ignore[attr-defined]
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


def _layer(
    monday: date, *, this_monday: date, sums: Mapping[date, tuple[int, Decimal, int]], shown: list[Booking]
) -> Layer:
    outings, juice, recorded = sums.get(monday, (0, Decimal(0), 0))
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
        juice_litres=juice,
        is_estimate=recorded < outings,
        bookings=bookings,
    )
