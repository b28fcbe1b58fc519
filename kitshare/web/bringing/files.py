"""Files that go out: copies of the bookings, and the empty table to begin with."""

from typing import Final

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Booking, Season
from kitshare.bringing import copies as writing
from kitshare.bringing.naming import Names
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.works import actions as works
from kitshare.works.models import Kind

ALL: Final = "all"
# So many bookings are written while the browser waits; more make a long work.
AT_ONCE: Final = 500


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
    bookings = writing.to_copy(season)
    name = writing.file_name(season, request.our_scheme, timezone.localdate(), kind)
    if bookings.count() > AT_ONCE:
        return _as_work(request, season, kind, name)
    return _download(writing.WRITERS[kind](bookings, Names()), kind=kind, name=name)


def _as_work(request: PageRequest, season: Season | None, kind: str, name: str) -> HttpResponse:
    """So many bookings take seconds: they are written beside the pages, and fetched once they are."""
    key = season.pk if season else 0
    keys = {"season": key, "kind": kind}
    title = _("Copy of the bookings: %(name)s") % {"name": name}
    about = f"{key}:{kind}:{request.user.pk}"
    work = works.ask(kind=Kind.COPY, about=about, keys=keys, title=title, by=request.user, at=timezone.now())
    return redirect("works:show", key=work.key)


@for_coordinators
@require_safe
def empty_table(request: PageRequest, kind: str) -> HttpResponse:
    """A table with our columns and nothing in it."""
    if kind not in {"csv", "xlsx"}:
        raise Http404
    return _download(writing.WRITERS[kind]([], Names()), kind=kind, name=f"bookings.{kind}")


def _season(key: str) -> Season | None:
    """The season asked for; none where all bookings are. One that does not exist is no file at all."""
    if key in {"", ALL}:
        return None
    season = Season.objects.filter(pk=int(key)).first() if key.isascii() and key.isdecimal() and len(key) < 19 else None
    if season is None:
        raise Http404
    return season


def _download(data: bytes, *, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type=writing.KINDS[kind])
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    answer["Cache-Control"] = "private, no-store"
    return answer
