"""The season by months and by days: who has which machine when."""

import re
from datetime import date, timedelta
from typing import Final

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from kitshare.bookings.models import Season
from kitshare.kits.models import Kit
from kitshare.people.models import Scheme, Village
from kitshare.rules import feasts
from kitshare.rules.periods import ONE_DAY, Period
from kitshare.web.access import PageRequest
from kitshare.web.season.day import day_of
from kitshare.web.season.filters import STAGES, read_filters
from kitshare.web.season.grid import month_grid
from kitshare.web.season.ways import ways_from

# What a view needs to know besides the filters: the name in its address, and what that looks like.
WHEN: Final = {
    "month": re.compile(r"2\d{3}-(0[1-9]|1[0-2])", re.ASCII),
    "day": re.compile(r"2\d{3}-\d\d-\d\d", re.ASCII),
}


def month_of(day: date) -> Period:
    """The month in which a day lies."""
    first = day.replace(day=1)
    return Period(start=first, end=(first + timedelta(days=32)).replace(day=1))


def asked_month(text: str, today: date) -> Period:
    """The month that an address asks for, such as 2027-09; this one when it asks for nothing that can be."""
    if WHEN["month"].fullmatch(text):
        return month_of(date(int(text[:4]), int(text[5:]), 1))
    return month_of(today)


def asked_day(text: str, today: date) -> date:
    """The day that an address asks for, such as 2027-09-11; today when it asks for nothing that can be."""
    try:
        return date.fromisoformat(text) if WHEN["day"].fullmatch(text) else today
    except ValueError:
        return today


def holidays_of(scheme: Scheme, period: Period) -> dict[date, str]:
    """The holidays that the scheme shows. No query."""
    return feasts.holidays_in(period, country=scheme.holiday_country, part=scheme.holiday_part)


def month(request: PageRequest) -> HttpResponse:
    """Machines down, days across; and the same in words."""
    today = timezone.localdate()
    shown = asked_month(request.GET.get("month", ""), today)
    filters = read_filters(request.GET)
    holidays = holidays_of(request.our_scheme, shown)
    here, start = reverse("season:month"), shown.start
    earlier = start - timedelta(days=1)
    context = {
        "grid": month_grid(month=shown, member=request.user, today=today, filters=filters, holidays=holidays),
        "month": start,
        "earlier": (earlier, filters.address(here, month=f"{earlier:%Y-%m}")),
        "later": (shown.end, filters.address(here, month=f"{shown.end:%Y-%m}")),
        "this_month": "" if shown.contains(today) else filters.address(here),
        "holidays": holidays,
        "ways": ways_from("month", filters, month=f"{start:%Y-%m}"),
        "season": Season.objects.current_or_next(start),
    }
    return render(request, "season/month.html", context)


def day(request: PageRequest) -> HttpResponse:
    """One day: what goes out, what comes back, where every machine is."""
    today = timezone.localdate()
    shown = asked_day(request.GET.get("day", ""), today)
    filters = read_filters(request.GET)
    season = Season.objects.current_or_next(shown)
    here = reverse("season:day")
    context = {
        "shown": day_of(day=shown, member=request.user, today=today, filters=filters, season=season),
        "day": shown,
        "earlier": (shown - ONE_DAY, filters.address(here, day=(shown - ONE_DAY).isoformat())),
        "later": (shown + ONE_DAY, filters.address(here, day=(shown + ONE_DAY).isoformat())),
        "today": "" if shown == today else filters.address(here),
        "holiday": holidays_of(request.our_scheme, Period(start=shown, end=shown + ONE_DAY)).get(shown, ""),
        "ways": ways_from("day", filters, day=shown.isoformat()),
        "season": season,
        "in_season": season is not None and season.period.contains(shown),
    }
    return render(request, "season/day.html", context)


def filter_choice(request: PageRequest) -> HttpResponse:
    """Which machine, village and stage to show; sends on to the view from which it was asked."""
    back = request.GET.get("back", "")
    back = back if back in WHEN else "month"
    when = request.GET.get(back, "")
    context = {
        "back": reverse(f"season:{back}"),
        "when": (back, when if WHEN[back].fullmatch(when) else ""),
        "filters": read_filters(request.GET),
        "kits": Kit.objects.in_use().with_machines().order_by("name", "pk"),
        "villages": Village.objects.order_by("name", "pk"),
        "stages": [(stage.value, stage.label) for stage in STAGES],
    }
    return render(request, "season/filters.html", context)
