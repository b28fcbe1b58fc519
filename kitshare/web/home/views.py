"""Today: what needs somebody, and the season as a stack."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from kitshare.bookings.models import Season
from kitshare.web.access import PageRequest
from kitshare.web.home.needs import needs_of
from kitshare.web.home.site_needs import of_the_site
from kitshare.web.home.stack import stack


def home(request: PageRequest) -> HttpResponse:
    today = timezone.localdate()
    of_site = of_the_site(timezone.now()) if request.user.coordinates else ()
    season = Season.objects.current_or_next(today)
    context = {
        "today": today,
        "needs": [*of_site, *needs_of(request.user, today)],
        "season": season,
        "layers": stack(season=season, today=today) if season else [],
    }
    return render(request, "home/home.html", context)
