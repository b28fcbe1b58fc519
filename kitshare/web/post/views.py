"""Post: every message of the scheme, the calls to make, and what could not be sent."""

from collections.abc import Callable
from typing import Final

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import TRIES, Channel, Message, MessageQuerySet
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.lists import on_pages
from kitshare.web.post.tables import PostTable, standing_of

BUNDLES: Final[dict[str, tuple[object, Callable[[MessageQuerySet], MessageQuerySet]]]] = {
    "": (gettext_lazy("All"), lambda found: found),
    "telephone": (gettext_lazy("To telephone"), MessageQuerySet.to_telephone),
    "failed": (gettext_lazy("Failed"), MessageQuerySet.given_up),
    "waiting": (gettext_lazy("On their way"), MessageQuerySet.on_their_way),
    "delivered": (gettext_lazy("Delivered"), MessageQuerySet.delivered),
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
        "needs": _what_needs_somebody(),
    }
    return render(request, "post/list.html", shown)


def _what_needs_somebody() -> dict[str, int]:
    """How many calls are to be made, and how many mails were given up."""
    failed = Q(channel=Channel.MAIL, attempts__gte=TRIES)
    return Message.objects.waiting().aggregate(
        calls=Count("pk", filter=Q(channel=Channel.TELEPHONE)), failed=Count("pk", filter=failed)
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
    }
    return render(request, "post/show.html", shown)


@require_POST
@for_coordinators
def told(request: PageRequest, pk: int) -> HttpResponse:
    """Note that the person was told by telephone."""
    message = get_object_or_404(Message, pk=pk)
    try:
        outbox.mark_told(message=message, by=request.user, at=timezone.now())
        messages.success(request, _("Noted: %(name)s was told by telephone.") % {"name": message.to_name})
    except outbox.AlreadyTold as refusal:
        messages.warning(request, str(refusal))
    return redirect("post:show", pk=pk)


@require_POST
@for_coordinators
def again(request: PageRequest, pk: int) -> HttpResponse:
    """Let the next round try to send it."""
    message = get_object_or_404(Message, pk=pk)
    try:
        outbox.try_again(message=message, by=request.user, at=timezone.now())
        messages.success(request, _("It will be sent with the next round, within a minute."))
    except outbox.AlreadyTold as refusal:
        messages.warning(request, str(refusal))
    return redirect("post:show", pk=pk)
