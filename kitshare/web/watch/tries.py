"""What the page of the site says of the last backup that was tried."""

from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.web.templatetags.kitshare import moment
from kitshare.web.watch.troubles import Trouble, ago
from kitshare.works.models import State, Work


def fact_of_try(last: Work | None, at: datetime) -> tuple[str, str]:
    """When a backup was last tried, and whether it came back; its page says who asked for it."""
    if last is None or last.ended_at is None:
        return _("Last backup tried"), _("never yet")
    words = {"at": moment(last.ended_at), "age": ago(at - last.ended_at)}
    if last.state != State.DONE:
        return _("Last backup tried"), _("%(at)s (%(age)s ago): it did not come back") % words
    made = moment(datetime.fromisoformat(str((last.found or {})["made_at"])))
    said = _("%(at)s (%(age)s ago): the one of %(made)s came back")
    return _("Last backup tried"), said % (words | {"made": made})


def trouble_of_try(last: Work | None) -> list[Trouble]:
    """A try that did not go well needs somebody, though nothing stands still by it."""
    if last is None or last.state == State.DONE:
        return []
    return [
        Trouble(
            tone="care",
            word=_("backup"),
            text=_("The last try of a backup did not bring it back. %(why)s") % {"why": last.words},
            todo=_(
                "Try another, or make one and try that. Where it says what is missing, whoever runs the server helps."
            ),
            address=reverse("watch:try"),
            deed=_("Try a backup"),
        )
    ]
