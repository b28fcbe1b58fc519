"""The season by months, by days and as a whole: who has which machine when."""

import re
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any, Final

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
from kitshare.web.forms import LONGEST_KEY
from kitshare.web.season.day import day_of
from kitshare.web.season.filters import STAGES, read_filters
from kitshare.web.season.grid import month_grid
from kitshare.web.season.ways import ways_from
from kitshare.web.season.weeks import weeks_of

# What a view needs to know besides the filters: the name in its address, and what that looks like.
WHEN: Final = {
    "month": ("month", re.compile(r"2\d{3}-(0[1-9]|1[0-2])", re.ASCII)),
    "day": ("day", re.compile(r"2\d{3}-\d\d-\d\d", re.ASCII)),
    "whole": ("season", re.compile(rf"\d{{1,{LONGEST_KEY}}}", re.ASCII)),
}


def month_of(day: date) -> Period:
    """The month in which a day lies."""
    first = day.replace(day=1)
    return Period(start=first, end=(first + timedelta(days=32)).replace(day=1))


def asked_month(text: str, today: date) -> Period:
    """The month that an address asks for, such as 2027-09; this one when it asks for nothing that can be."""
    if _is("month", text):
        return month_of(date(int(text[:4]), int(text[5:]), 1))
    return month_of(today)


def asked_day(text: str, today: date) -> date:
    """The day that an address asks for, such as 2027-09-11; today when it asks for nothing that can be."""
    try:
        return date.fromisoformat(text) if _is("day", text) else today
    except ValueError:
        return today


def _is(view: str, text: str) -> bool:
    """Whether an address may say this of the time that a view shows."""
    return WHEN[view][1].fullmatch(text) is not None


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


def whole(request: PageRequest) -> HttpResponse:
    """A whole season, week by week."""
    today = timezone.localdate()
    filters = read_filters(request.GET)
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    asked = request.GET.get("season", "")
    season = asked_season(int(asked) if _is("whole", asked) else 0, seasons, today)
    context: dict[str, Any] = {
        "season": season,
        "month_address": filters.address(reverse("season:month")),
        "ways": ways_from("whole", filters, season=str(season.pk) if season else ""),
    }
    if season is not None:
        holidays = holidays_of(request.our_scheme, season.period)
        context["whole"] = weeks_of(season=season, member=request.user, today=today, filters=filters, holidays=holidays)
        place, here = seasons.index(season), reverse("season:whole")
        for name, other in (("earlier", seasons[:place][-1:]), ("later", seasons[place + 1 :][:1])):
            context[name] = [(one.name, filters.address(here, season=str(one.pk))) for one in other]
    return render(request, "season/whole.html", context)


def asked_season(key: int, seasons: Sequence[Season], today: date) -> Season | None:
    """The season of that key; else the one that is on, or the next, or the last there was. They come in order."""
    named = [season for season in seasons if season.pk == key]
    coming = [season for season in seasons if season.closes_on >= today]
    return next(iter([*named, *coming, *seasons[-1:]]), None)


def filter_choice(request: PageRequest) -> HttpResponse:
    """Which machine, village and stage to show; sends on to the view from which it was asked."""
    back = request.GET.get("back", "")
    back = back if back in WHEN else "month"
    name = WHEN[back][0]
    when = request.GET.get(name, "")
    context = {
        "back": reverse(f"season:{back}"),
        "when": (name, when if _is(back, when) else ""),
        "filters": read_filters(request.GET),
        "kits": Kit.objects.in_use().with_machines().order_by("name", "pk"),
        "villages": Village.objects.order_by("name", "pk"),
        "stages": [(stage.value, stage.label) for stage in STAGES],
    }
    return render(request, "season/filters.html", context)
