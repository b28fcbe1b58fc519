"""Which pages a phone may keep for a place without signal, and which it asks for ahead of their time."""

import functools
from collections.abc import Callable
from typing import Concatenate, Final, ParamSpec

from django.http import HttpResponse

from kitshare.web.access import PageRequest

KEEP: Final = "X-Kitshare-Keep"
P = ParamSpec("P")


def kept_on_a_phone(
    view: Callable[Concatenate[PageRequest, P], HttpResponse],
) -> Callable[Concatenate[PageRequest, P], HttpResponse]:
    """Let phones keep what this view shows, unless the view says otherwise."""

    @functools.wraps(view)
    def marked(request: PageRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        answer = view(request, *args, **kwargs)
        if request.method == "GET":
            answer.headers.setdefault(KEEP, "1")
        return answer

    return marked  # type: ignore[return-value]


def asks_ahead(request: PageRequest) -> bool:
    """Whether a phone fetches the page for later, when there may be no signal."""
    return request.headers.get(KEEP) == "1"


def not_for_later(answer: HttpResponse) -> HttpResponse:
    """What is said of this moment alone takes no place of what a phone keeps."""
    answer.headers[KEEP] = ""
    return answer
