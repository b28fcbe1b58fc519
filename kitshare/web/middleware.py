"""What happens around every page."""

from collections.abc import Callable
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from kitshare.people.models import Member, Scheme
from kitshare.web import phones, troubles

Answer = Callable[[HttpRequest], HttpResponse]

# What a browser sends. No page of ours means anything else, and none is asked whether it might.
SPOKEN: Final = ("GET", "HEAD", "POST")


DROPPED_AT_MOST: Final = 1_000_000_000
PIECE: Final = 1_000_000


class OnlyWhatBrowsersSend:
    """Refuses every other method, in one place for all pages, before anything is looked up."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method not in SPOKEN:
            return HttpResponseNotAllowed(SPOKEN)
        return self.get_response(request)


class TooMuchAtOnce:
    """Refuses what is too large to be a sheet with its photos, before any of it is kept."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: object, *_arguments: object) -> HttpResponse | None:
        """Before the view, but after it is known who asks: the page that says so is one like all others.

        A view may bear a bound of its own, `most_bytes`.
        """
        sent = request.META.get("CONTENT_LENGTH") or "0"
        most = getattr(view, "most_bytes", settings.REQUEST_MAX_BYTES)
        if not sent.isdecimal() or int(sent) <= most:
            return None
        # A browser shows no answer before all is sent: what it sends is read and dropped, up to a bound.
        left = min(int(sent), DROPPED_AT_MOST)
        while left > 0 and (piece := request.read(min(left, PIECE))):
            left -= len(piece)
        if phones.is_phone(request):
            return phones.too_much(most)
        return render(request, "413.html", {"most": most // 1_000_000}, status=413)


class BusyDatabase:
    """Says when to try again where the database cannot do what a view asked of it, and may soon."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        return troubles.answer(request, exception)


class SchemeOfTheSite:
    """Puts the scheme on the request and its time zone on the clock; before the first run there is only that page."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        scheme = Scheme.objects.current()
        request.our_scheme = scheme  # type: ignore[attr-defined]
        first_run = reverse("setup:first_run")
        if scheme is None:
            if request.path != first_run:
                return HttpResponseRedirect(first_run)
            return self.get_response(request)
        with timezone.override(scheme.zone):
            return self.get_response(request)


class NamesTheMember:
    """Says by each page whose it is, so that a phone keeps it for nobody else."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        if answer.get("Content-Type", "").startswith("text/html"):
            member = getattr(request, "user", None)
            answer["X-Kitshare-Member"] = str(member.pk if isinstance(member, Member) else 0)
        return answer
