"""Letters that reached nobody: why, and trying again with one, with those chosen, or with all."""

from typing import Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from kitshare.outbox import by_hand
from kitshare.outbox.models import Message
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.forms import LONGEST_KEY

MOST: Final = 50  # on a page; "all" means those beyond it too


@require_safe
@for_coordinators
def failed(request: PageRequest) -> HttpResponse:
    """The newest dead letters, each with the mail server's last words."""
    found = list(Message.objects.dead().order_by("-queued_at", "-pk")[: MOST + 1])
    return render(request, "post/failed.html", {"letters": found[:MOST], "are_more": len(found) > MOST, "most": MOST})


@require_POST
@for_coordinators
def failed_again(request: PageRequest) -> HttpResponse:
    """Let the next round try those chosen, or all."""
    typed = request.POST.getlist("letter")
    chosen = None if "all" in request.POST else [int(key) for key in typed if _is_key(key)]
    count = by_hand.try_dead_again(chosen=chosen, by=request.user, at=timezone.now())
    if count:
        said = ngettext(
            "%(count)d letter will be sent with the next round, within a minute.",
            "%(count)d letters will be sent with the next round, within a minute.",
            count,
        )
        messages.success(request, said % {"count": count})
    else:
        messages.warning(request, _("Nothing was sent: tick the letters to try again, if they are still here."))
    return redirect("post:failed")


def _is_key(typed: str) -> bool:
    return typed.isascii() and typed.isdecimal() and len(typed) <= LONGEST_KEY
