"""Files that go out: copies of the bookings, and the empty table to begin with."""

from typing import Final

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Booking, BookingQuerySet, Season, Stage
from kitshare.bringing import copies as writing
from kitshare.bringing.naming import Names
from kitshare.web.access import PageRequest, for_coordinators

ALL: Final = "all"


@for_coordinators
@require_safe
def copies(request: PageRequest) -> HttpResponse:
    """Choose the season and the kind of file."""
    today = timezone.localdate()
    seasons = list(Season.objects.order_by("-opens_on", "pk"))
    current = Season.objects.current_or_next(today)
    facts = {"seasons": seasons, "current": current, "has_bookings": Booking.objects.exists()}
    return render(request, "bringing/copies.html", facts)


@for_coordinators
@require_safe
def copy(request: PageRequest) -> HttpResponse:
    """The bookings of a season, or all there are, as a file of the kind asked for."""
    season = _season(request.GET.get("season", ""))
    kind = request.GET.get("as", "")
    if kind not in writing.KINDS:
        raise Http404
    with_relays = _of(season).with_people().select_related("relay_from__first")  # type: ignore[misc]
    bookings = with_relays.order_by("out_on", "pk")
    data = writing.WRITERS[kind](bookings, Names())
    name = slugify(season.name if season else request.our_scheme.name) or "bookings"
    return _download(data, kind=kind, name=f"{name}-{timezone.localdate():%Y-%m-%d}")


@for_coordinators
@require_safe
def empty_table(request: PageRequest, kind: str) -> HttpResponse:
    """A table with our columns and nothing in it."""
    if kind not in {"csv", "xlsx"}:
        raise Http404
    return _download(writing.WRITERS[kind]([], Names()), kind=kind, name="bookings")


def _season(key: str) -> Season | None:
    """The season asked for; none where all bookings are. One that does not exist is no file at all."""
    if key in {"", ALL}:
        return None
    season = Season.objects.filter(pk=int(key)).first() if key.isascii() and key.isdecimal() and len(key) < 19 else None
    if season is None:
        raise Http404
    return season


def _of(season: Season | None) -> BookingQuerySet:
    # Who waits has nothing yet that could be copied: a place in an order is a place on this site's list.
    found: BookingQuerySet = Booking.objects.exclude(stage=Stage.WAITING)
    return found if season is None else found.filter(out_on__range=(season.opens_on, season.closes_on))


def _download(data: bytes, *, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type=writing.KINDS[kind])
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    answer["Cache-Control"] = "private, no-store"
    return answer
