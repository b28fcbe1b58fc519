"""Calendar feeds: at an address that cannot be guessed and can be changed or taken away, without signing in."""

from collections.abc import Callable, Iterable
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date, quote_etag
from django.utils.text import slugify
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_safe

from kitshare.bookings import care_feed, feeds
from kitshare.kits.models import Kit
from kitshare.people.models import Member, Scheme, Village
from kitshare.upkeep.care_models import UpkeepCalendar
from kitshare.web.access import PageRequest


@login_not_required
@require_safe
@gzip_page
def of_the_scheme(request: HttpRequest, token: str) -> HttpResponseBase:
    return _answer(request, feeds.of_the_scheme(get_object_or_404(Scheme, feed_token=token)))


@login_not_required
@require_safe
@gzip_page
def of_a_village(request: HttpRequest, token: str) -> HttpResponseBase:
    return _answer(request, feeds.of_a_village(get_object_or_404(Village, feed_token=token)))


@login_not_required
@require_safe
@gzip_page
def of_a_kit(request: HttpRequest, token: str) -> HttpResponseBase:
    return _answer(request, feeds.of_a_kit(get_object_or_404(Kit, feed_token=token)))


@login_not_required
@require_safe
@gzip_page
def of_a_member(request: PageRequest, token: str) -> HttpResponseBase:
    """A member whose account is closed has no feed either."""
    member = get_object_or_404(Member.objects.active(), feed_token=token)
    return _answer(request, feeds.of_a_member(member, scheme=request.our_scheme))


@login_not_required
@require_safe
@gzip_page
def of_the_upkeep(request: PageRequest, token: str) -> HttpResponseBase:
    """Services and safety tests, for those who do them and those who lend by them."""
    calendar = get_object_or_404(UpkeepCalendar, feed_token=token)
    return _send(
        request, care_feed.of_the_upkeep(calendar, scheme=request.our_scheme), care_feed.look, care_feed.pieces
    )


def _answer(request: HttpRequest, feed: feeds.Feed) -> HttpResponseBase:
    return _send(request, feed, feeds.look, feeds.pieces)


def _send(
    request: HttpRequest, feed: Any, look: Callable[..., feeds.Holding], pieces: Callable[..., Iterable[bytes]]
) -> HttpResponseBase:
    """The feed; or "not modified", before any of its text is made, when it is the one that the calendar has."""
    at = timezone.now()
    source = f"{settings.SITE_ADDRESS.rstrip('/')}{request.path}"
    holding = look(feed, source=source, at=at)
    since = feeds.held_since(feed.owner, holding, at=at)
    # A date that is still to come may not be given (RFC 9110, 8.8.2.1): for that second the ETag speaks alone.
    last_modified = int(since.timestamp()) if since <= at else None
    headers = {"ETag": quote_etag(holding.fingerprint[:32]), "Cache-Control": "private, no-cache"}
    if last_modified is not None:
        headers["Last-Modified"] = http_date(last_modified)
    unmodified = get_conditional_response(
        request, etag=headers["ETag"], last_modified=last_modified, response=HttpResponse(headers=headers)
    )
    if unmodified is not None and unmodified.status_code != 200:
        return unmodified
    body: Iterable[bytes] = pieces(feed, holding, source=source, at=at) if request.method == "GET" else ()
    answer = StreamingHttpResponse(body, content_type="text/calendar; charset=utf-8", headers=headers)
    answer["Content-Disposition"] = f'inline; filename="{slugify(feed.name) or "kitshare"}.ics"'
    return answer
