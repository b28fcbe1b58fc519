"""The season by months: who has which machine on which day."""

import re
from datetime import date, timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from kitshare.bookings.models import Season
from kitshare.rules.periods import Period
from kitshare.web.access import PageRequest
from kitshare.web.season.grid import month_grid


def month_of(day: date) -> Period:
    """The month in which a day lies."""
    first = day.replace(day=1)
    return Period(start=first, end=(first + timedelta(days=32)).replace(day=1))


def asked_month(text: str, today: date) -> Period:
    """The month that an address asks for, such as 2027-09; this one when it asks for nothing that can be."""
    found = re.fullmatch(r"(2\d{3})-(0[1-9]|1[0-2])", text, re.ASCII)
    return month_of(date(int(found[1]), int(found[2]), 1) if found else today)


def month(request: PageRequest) -> HttpResponse:
    today = timezone.localdate()
    shown = asked_month(request.GET.get("month", ""), today)
    context = {
        "grid": month_grid(month=shown, member=request.user, today=today),
        "month": shown.start,
        "earlier": shown.start - timedelta(days=1),
        "later": shown.end,
        "today": today,
        "shows_today": shown.contains(today),
        "season": Season.objects.current_or_next(shown.start),
    }
    return render(request, "season/month.html", context)
