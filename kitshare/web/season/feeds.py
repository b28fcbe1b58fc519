"""Calendar feeds: at an address that cannot be guessed and can be renewed, without signing in."""

import hashlib

from django.contrib.auth.decorators import login_not_required
from django.db.models import Count, Max
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.http import quote_etag
from django.views.decorators.http import require_safe

from kitshare.bookings.calendars import bookings_for_a_feed, feed
from kitshare.bookings.models import Booking, BookingQuerySet
from kitshare.people.models import Scheme, Village


@login_not_required
@require_safe
def of_the_scheme(request: HttpRequest, token: str) -> HttpResponse:
    scheme = get_object_or_404(Scheme, feed_token=token)
    return _answer(request, Booking.objects.all(), name=scheme.name)


@login_not_required
@require_safe
def of_a_village(request: HttpRequest, token: str) -> HttpResponse:
    village = get_object_or_404(Village, feed_token=token)
    return _answer(request, Booking.objects.filter(village=village), name=village.name)


def _answer(request: HttpRequest, bookings: BookingQuerySet, *, name: str) -> HttpResponse:
    """The feed; or "not modified" from one small query, when it is the one that the calendar has."""
    shown = bookings_for_a_feed(bookings, at=timezone.now())
    latest = shown.order_by().aggregate(Max("changed_at"), Count("pk"))
    seen = f"{name} {latest['changed_at__max']} {latest['pk__count']} {timezone.localdate()}"
    etag = quote_etag(hashlib.sha256(seen.encode()).hexdigest()[:32])
    headers = {"ETag": etag, "Cache-Control": "private, max-age=300"}
    if etag in request.headers.get("If-None-Match", ""):
        return HttpResponseNotModified(headers=headers)
    answer = HttpResponse(feed(shown, name=name), content_type="text/calendar; charset=utf-8", headers=headers)
    answer["Content-Disposition"] = 'inline; filename="kitshare.ics"'
    return answer
