"""Around all else: the number of a request, how it was answered, and what programs ask, at once."""

import logging
import re
import time
import uuid
from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse

from kitshare.serving import logs
from kitshare.watch.counting import count_answer
from kitshare.web.watch import views

Answer = Callable[[HttpRequest], HttpResponse]

log = logging.getLogger("kitshare.answered")

# What a proxy may have given a request; anything else could forge a line of the log.
NUMBER: Final = re.compile(r"[0-9A-Za-z][0-9A-Za-z.-]{7,63}")

AT_ONCE: Final[dict[str, Answer]] = {
    "/health/": views.health,
    "/ready/": views.ready,
    "/ready/all/": views.well,
    "/metrics/": views.metrics,
}


class Answering:
    """Gives each request a number, which stands in every line of the log that belongs to it and in the answer."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        given = request.headers.get("X-Request-ID", "")
        number = given if NUMBER.fullmatch(given) else uuid.uuid4().hex
        request.number = number  # type: ignore[attr-defined]
        logs.begin(request=number)
        before = logs.answering.set(request)
        began = time.monotonic()
        try:
            answer = self.get_response(request)
            answer["X-Request-ID"] = number
            if request.path not in AT_ONCE:
                _note(request, answer, took=time.monotonic() - began)
        finally:
            logs.answering.reset(before)
            logs.end()
        return answer


def _note(request: HttpRequest, answer: HttpResponse, *, took: float) -> None:
    """By the page's name: its path may hold what opens something by itself."""
    page = request.resolver_match.view_name if request.resolver_match else ""
    count_answer(page=page, status=answer.status_code, seconds=took)
    facts = {"method": request.method, "page": page, "status": answer.status_code, "ms": round(took * 1000, 1)}
    log.info("answered", extra={"facts": facts})


class AskedByPrograms:
    """A probe asks from the machine itself, under any name and without https: it is answered as it asks."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return AT_ONCE.get(request.path, self.get_response)(request)
