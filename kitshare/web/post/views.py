"""Post: every message of the scheme, the calls to make, and what could not be sent."""

from collections.abc import Callable
from datetime import datetime
from typing import Final

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from kitshare.outbox import by_hand
from kitshare.outbox.models import GIVEN_UP, TRIES, Channel, Message, MessageQuerySet
from kitshare.people.missed_calls import due_before
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.lists import on_pages
from kitshare.web.post.tables import PostTable, standing_of

BUNDLES: Final[dict[str, tuple[object, Callable[[MessageQuerySet], MessageQuerySet]]]] = {
    "": (gettext_lazy("All"), lambda found: found),
    "telephone": (gettext_lazy("To telephone"), MessageQuerySet.to_telephone),
    "failed": (gettext_lazy("Failed"), MessageQuerySet.dead),
    "waiting": (gettext_lazy("On their way"), MessageQuerySet.on_their_way),
    "delivered": (gettext_lazy("Delivered"), lambda found: found.delivered().filter(came_back_at=None)),
}


@require_safe
@for_coordinators
def post_list(request: PageRequest) -> HttpResponse:
    """Every message, newest first, or one bundle of them; on top what needs somebody."""
    chosen = request.GET.get("show", "")
    chosen = chosen if chosen in BUNDLES else ""
    _word, bundle = BUNDLES[chosen]
    table = PostTable(bundle(Message.objects.all()))
    on_pages(request, table)
    shown = {
        "table": table,
        "chosen": chosen,
        "bundles": [(name, word) for name, (word, _bundle) in BUNDLES.items()],
        "needs": _what_needs_somebody(due_before(request.our_scheme, at=timezone.now())),
    }
    return render(request, "post/list.html", shown)


def _what_needs_somebody(before: datetime) -> dict[str, int]:
    """How many calls are to be made, how many of these nobody made in time, and how many letters reached nobody."""
    calls = Q(channel=Channel.TELEPHONE)
    undelivered = Message.objects.waiting() | Message.objects.dead()
    return undelivered.aggregate(
        calls=Count("pk", filter=calls),
        missed=Count("pk", filter=calls & Q(due_at__lt=before)),
        failed=Count("pk", filter=Q(channel=Channel.MAIL) & (GIVEN_UP | ~Q(came_back_at=None))),
    )


@require_safe
@for_coordinators
def show(request: PageRequest, pk: int) -> HttpResponse:
    """One message as it was written, and what has become of it."""
    message = get_object_or_404(Message, pk=pk)
    kind, _colon, key = message.thread.partition(":")
    shown = {
        "letter": message,  # not `message`: the frame's notices have that name
        "standing": standing_of(message),
        "booking_pk": int(key) if kind == "booking" and key.isdecimal() else None,
        "most_attempts": TRIES,
        "may_undo": by_hand.may_undo(message, at=timezone.now()),
    }
    return render(request, "post/show.html", shown)


@require_POST
@for_coordinators
def again(request: PageRequest, pk: int) -> HttpResponse:
    """Let the next round try to send it."""
    message = get_object_or_404(Message, pk=pk)
    try:
        by_hand.try_again(message=message, by=request.user, at=timezone.now())
        messages.success(request, _("It will be sent with the next round, within a minute."))
    except by_hand.AlreadyTold as refusal:
        messages.warning(request, str(refusal))
    return redirect("post:show", pk=pk)
