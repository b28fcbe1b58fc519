"""Addresses for programs that watch the site. None knows a session, a member or a cookie."""

import secrets

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST

from kitshare.watch import figures, probes


@require_safe
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """That the process answers: it asks nothing of anybody."""
    return JsonResponse({"ok": True})


@require_safe
@never_cache
def ready(request: HttpRequest) -> HttpResponse:
    """Whether pages can be answered: 503 where they cannot. What else is not well is said, and stops nobody."""
    return _said(all_of_it=False)


@require_safe
@never_cache
def well(request: HttpRequest) -> HttpResponse:
    """The same, with 503 as soon as anything is not as it should be: for whoever is to be woken."""
    return _said(all_of_it=True)


@require_safe
@never_cache
def metrics(request: HttpRequest) -> HttpResponse:
    """Figures for whoever knows the word; without one in the environment there is no such page."""
    word = settings.METRICS_TOKEN
    if not word:
        return HttpResponse(status=404)
    given = request.headers.get("Authorization", "")
    if not secrets.compare_digest(given.encode(), f"Bearer {word}".encode()):
        return HttpResponse(status=401, headers={"WWW-Authenticate": "Bearer"})
    return HttpResponse(figures.text(timezone.now()), content_type=CONTENT_TYPE_LATEST)


def _said(*, all_of_it: bool) -> HttpResponse:
    seen = probes.look(at=timezone.now())
    is_ready = all(one.ok for one in seen if one.needed)
    is_well = all(one.ok for one in seen)
    told = {"ready": is_ready, "well": is_well, "checks": {one.name: one.as_plain() for one in seen}}
    return JsonResponse(told, status=200 if (is_well if all_of_it else is_ready) else 503)
