"""What is answered before anything is looked at: no host, no https, no session, no scheme."""

from collections.abc import Callable
from typing import Final

from django.http import HttpRequest, HttpResponse

from kitshare.web.watch import views

Answer = Callable[[HttpRequest], HttpResponse]

AT_ONCE: Final[dict[str, Answer]] = {
    "/health/": views.health,
    "/ready/": views.ready,
    "/ready/all/": views.well,
}


class AskedByPrograms:
    """A probe asks from the machine itself, under any name and without https: it is answered as it asks."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return AT_ONCE.get(request.path, self.get_response)(request)
