"""Shifting all bookings of a machine: say what, look over who is affected, shift."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from kitshare.bookings import shifting
from kitshare.bookings.refusals import BookingRefused
from kitshare.bookings.shift_choices import numbers_that_fit
from kitshare.bookings.shifting import Shift, ShiftBlocked, ShiftChangedMeanwhile
from kitshare.kits.models import Machine
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.season.shifting_forms import ShiftForm, read_seen


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def shift(request: PageRequest) -> HttpResponse:
    """Without days: ask for them. With days: look it over. Sent from there: shift."""
    machines = list(Machine.objects.in_use().order_by("kit__name", "kit_id", "position", "pk"))
    today = timezone.localdate()
    if request.method == "POST":
        form = ShiftForm(request.POST, machines=machines, today=today)
    elif "days" in request.GET:
        form = ShiftForm(request.GET, machines=machines, today=today)
    else:
        chosen = {"machine": request.GET.get("machine", ""), "way": "later"}
        form = ShiftForm(initial=chosen, machines=machines, today=today)
    if not form.is_valid():
        return _form(request, form)
    return _shift(request, form) if request.method == "POST" else _look_over(request, form)


def _shift(request: PageRequest, form: ShiftForm) -> HttpResponse:
    signed: dict[str, Any] = {"by": request.user, "at": timezone.now(), "today": timezone.localdate()}
    try:
        done = shifting.shift_bookings(**form.asked(), seen=read_seen(request.POST), **signed)
    except (ShiftBlocked, ShiftChangedMeanwhile) as refusal:
        return _look_over(request, form, refusal=refusal)
    except BookingRefused as refusal:
        form.refuse(refusal)
        return _form(request, form, status=409)
    count = len(done.moved)
    words = ngettext(
        "%(count)d booking is shifted. Those concerned are told.",
        "%(count)d bookings are shifted. Those concerned are told.",
        count,
    )
    messages.success(request, words % {"count": count})
    first = done.moved[0].period.start
    return redirect(f"{reverse('season:month')}?month={first:%Y-%m}&machine={form.cleaned_data['machine']}")


def _look_over(request: PageRequest, form: ShiftForm, refusal: BookingRefused | None = None) -> HttpResponse:
    asked, today = form.asked(), timezone.localdate()
    try:
        look: Shift = shifting.look_at_shift(**asked, by=request.user, today=today)
    except BookingRefused as refused:
        form.refuse(refused)
        return _form(request, form)
    fits = numbers_that_fit(look, by_days=asked["by_days"], today=today) if look.obstacles else []
    shown = {
        "form": form,
        "look": look,
        "choices": [_choice(form, number) for number in fits],
        "machine": asked["machine"],
        "days": abs(asked["by_days"]),
        "is_later": asked["by_days"] > 0,
        "kept": [(name, form[name].value()) for name in form.fields],
        "seen": [f"{key}-{revision}" for key, revision in look.seen.items()],
        "changed": isinstance(refusal, ShiftChangedMeanwhile),
    }
    status = 409 if look.obstacles or refusal else 200
    return render(request, "season/shift_look_over.html", shown, status=status)


def _choice(form: ShiftForm, number: int) -> tuple[str, str]:
    """The address of the look over of another number of days, and that number in words."""
    days, is_later = abs(number), number > 0
    asked = {"machine": form["machine"].value(), "from_day": form["from_day"].value()}
    query = asked | {"days": str(days), "way": "later" if is_later else "earlier"}
    if is_later:
        words = ngettext("%(days)d day later", "%(days)d days later", days)
    else:
        words = ngettext("%(days)d day earlier", "%(days)d days earlier", days)
    return f"?{urlencode(query)}", words % {"days": days}


def _form(request: PageRequest, form: ShiftForm, status: int = 200) -> HttpResponse:
    return render(request, "season/shift.html", {"form": form}, status=status)
