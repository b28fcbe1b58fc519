"""The way out of reminders: opened from a letter, by somebody who need not sign in."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from kitshare.outbox import stopping
from kitshare.people import hearing
from kitshare.people.models import Member


@login_not_required
@csrf_exempt
@never_cache
def stop_reminders(request: HttpRequest, token: str) -> HttpResponse:
    """A page with a button; sending it acts, whoever sends it: a mail program does so by itself (RFC 8058, 3.2).

    Opening it only shows: what looks through the links of a letter must stop nothing.
    """
    try:
        stop = stopping.read_token(token, today=timezone.now().date())
    except stopping.TokenUnfit:
        return _unfit(request, _("This address is not whole. Open it from the letter again, or copy all of it."))
    except stopping.TokenTooOld:
        return _unfit(request, _("This letter is more than a year old, so its address stops nothing any more."))
    member = Member.objects.active().filter(pk=stop.member_key).first()
    if member is None:
        return _unfit(request, _("Whoever this letter was for is no longer a member, and gets no reminders."))
    is_asked = request.method == "POST" and request.POST.get("List-Unsubscribe") == "One-Click"
    if is_asked:
        hearing.stop_reminders(member=member, at=timezone.now())
    return render(request, "post/stop_reminders.html", {"is_stopped": is_asked or not member.wants_reminders})


def _unfit(request: HttpRequest, why: str) -> HttpResponse:
    return render(request, "post/stop_reminders.html", {"why": why}, status=404)
