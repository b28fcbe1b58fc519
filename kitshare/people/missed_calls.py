"""Calls that nobody made by the end of the next day: the coordinators hear of them once."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.engine import deed
from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message
from kitshare.outbox.speaking import in_each_language
from kitshare.people.models import Member, Scheme
from kitshare.rules.hearing import showing


def due_before(scheme: Scheme, *, at: datetime) -> datetime:
    """The beginning of yesterday by the scheme's clock: what was due before then should have been told by its end."""
    yesterday = at.astimezone(scheme.zone).date() - timedelta(days=1)
    return showing(time(0), yesterday, scheme.zone)


@deed
def tell_of_missed(*, at: datetime) -> int:
    """One letter to each coordinator about the calls missed since the last one; how many calls those are.

    A coordinator without e-mail is not telephoned about it: that would be one more call to miss.
    """
    scheme = Scheme.objects.current()
    if scheme is None:
        return 0
    missed = Message.objects.missed(due_before(scheme, at=at)).filter(call_missed_at=None)
    calls = list(missed.select_for_update().order_by("due_at", "pk"))
    if not calls:
        return 0
    Message.objects.filter(pk__in=[call.pk for call in calls]).update(call_missed_at=at)
    _tell(calls, at=at)
    return len(calls)


@in_each_language
def _tell(calls: Sequence[Message], *, at: datetime) -> None:
    subject = ngettext(
        "%(count)d call was not made: %(first)s", "%(count)d calls were not made: %(first)s and more", len(calls)
    ) % {"count": len(calls), "first": calls[0].to_name}
    lines = [_("Nobody has telephoned by the end of the day after. Whoever can, please ring today:")]
    lines += [f"{call.to_name}, {call.to_telephone or _('no number known')}: {call.subject}" for call in calls]
    lines.append(_("The list of calls: %(page)s") % {"page": settings.SITE_ADDRESS.rstrip("/") + reverse("post:calls")})
    for coordinator in Member.objects.coordinating().exclude(email=None):
        outbox.queue(
            key=f"calls-missed:{calls[0].pk}:{coordinator.pk}",
            to=coordinator,
            subject=subject,
            body="\n\n".join(lines),
            at=at,
            alone=True,
            is_safety=any(call.is_safety for call in calls),
        )
