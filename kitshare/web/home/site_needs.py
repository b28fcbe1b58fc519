"""What needs a coordinator because of the site itself: one line, which leads to the page that says all of it."""

from collections.abc import Iterator
from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.watch.standing import standing
from kitshare.web.home.need import Need
from kitshare.web.watch.troubles import troubles


def of_the_site(at: datetime) -> Iterator[Need]:
    """Only what is loud, in three queries."""
    loud = [one for one in troubles(standing(at)) if one.tone == "stop"]
    if not loud:
        return
    text = loud[0].text
    if len(loud) > 1:
        more = len(loud) - 1
        text += " " + ngettext("And %(count)d thing more.", "And %(count)d things more.", more) % {"count": more}
    yield Need(
        rank=0,
        tone="stop",
        word=_("the site"),
        text=text,
        address=reverse("watch:status"),
        deed=_("See what to do"),
    )
