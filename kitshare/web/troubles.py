"""What a person is told while the database is busy or away, or the disk full: nothing was changed; try again then.

The page is made without the database: it is the one that must be shown when there is none.
"""

import logging
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.views.defaults import server_error

from kitshare.engine import Trouble, trouble_of
from kitshare.web import phones

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Words:
    """How a trouble is told on a page and on a phone, and after how many seconds to try again."""

    heading: str | Promise
    on_a_phone: str | Promise
    seconds: int


WORDS: Final[Mapping[Trouble, Words]] = {
    Trouble.BUSY: Words(
        _("Somebody else was saving at the same moment"),
        _("The site is busy. It is sent again in a moment."),
        seconds=2,
    ),
    Trouble.AWAY: Words(
        _("The site cannot reach its records just now"),
        _("The site cannot reach its records just now. It stays on this phone, and is sent again by itself."),
        seconds=10,
    ),
    Trouble.FULL: Words(
        _("The site cannot write anything down just now"),
        _("The site cannot write anything down just now. It stays on this phone, and is sent again by itself."),
        seconds=60,
    ),
}


def answer(request: HttpRequest, error: BaseException | None) -> HttpResponse | None:
    """The 503 for an error that waiting may mend; None for any other."""
    trouble = trouble_of(error)
    if trouble is None:
        return None
    log.warning("Answered 503 to %s: %s (%s)", request.path, trouble.value, error)
    words = WORDS[trouble]
    if phones.is_phone(request):
        told: HttpResponse = phones.later(str(words.on_a_phone))
    else:
        facts = {"words": words, "was_sent": request.method == "POST", "is_full": trouble is Trouble.FULL}
        page = render_to_string("503.html", facts)
        told = HttpResponse(page, status=503)
    told["Retry-After"] = str(words.seconds)
    told["Cache-Control"] = "no-store"
    return told


def went_wrong(request: HttpRequest) -> HttpResponse:
    """The answer to every error that reached no view: sessions, the scheme and the member are read before one."""
    return answer(request, sys.exc_info()[1]) or server_error(request)
