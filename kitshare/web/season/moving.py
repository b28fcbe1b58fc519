"""Moving a booking: choose days, look it over, move it. Dragging in the grid leads to the same page."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from kitshare.bookings import eligibility, moving
from kitshare.bookings.models import Booking, Season
from kitshare.bookings.refusals import BookingRefused, ChangedMeanwhile, MachineTaken, NotTheirs
from kitshare.bookings.words import days_in_words
from kitshare.rules.periods import Period
from kitshare.web.access import PageRequest
from kitshare.web.season.choosing import weekday_names, weeks_to_choose
from kitshare.web.season.moving_forms import MoveForm, MoveItForm
from kitshare.web.season.views import asked_month


@require_http_methods(["GET", "HEAD", "POST"])
def move(request: PageRequest, pk: int) -> HttpResponse:
    """Without days: choose some. With days: look the move over. Sent from there: move."""
    booking = get_object_or_404(Booking.objects.visible_to(request.user).with_people(), pk=pk)
    try:
        eligibility.check_can_change(booking=booking, by=request.user)
    except NotTheirs as refusal:
        raise PermissionDenied(str(refusal)) from refusal
    except BookingRefused as refusal:
        messages.warning(request, str(refusal))
        return redirect("bookings:show", pk=booking.pk)
    if request.method == "POST":
        return _move(request, booking)
    form = MoveForm(request.GET if "out_on" in request.GET else None, present=booking.period)
    if not form.is_valid():
        return _choose(request, booking, form)
    if form.cleaned_data["period"] == booking.period:
        form.add_error("out_on", _("It has these days already. Choose others."))
        return _choose(request, booking, form)
    return _look_over(request, booking, form.cleaned_data["period"])


def _move(request: PageRequest, booking: Booking) -> HttpResponse:
    form = MoveItForm(request.POST, present=booking.period)
    if not form.is_valid():
        return _choose(request, booking, MoveForm(request.POST, present=booking.period))
    period = form.cleaned_data["period"]
    signed: dict[str, Any] = {"by": request.user, "at": timezone.now(), "today": timezone.localdate()}
    try:
        moved = moving.move_booking(booking=booking, period=period, revision=form.cleaned_data["revision"], **signed)
    except ChangedMeanwhile as refusal:
        return _look_over(request, _again(request, booking), period, changed=refusal)
    except BookingRefused as refusal:
        return _refused(request, _again(request, booking), period, refusal)
    messages.success(request, _("Moved to %(days)s. Those concerned are told.") % {"days": days_in_words(period)})
    if request.POST.get("then") == "season":
        return redirect(f"{reverse('season:month')}?month={moved.out_on:%Y-%m}")
    return redirect("bookings:show", pk=moved.pk)


def _look_over(
    request: PageRequest, booking: Booking, period: Period, changed: ChangedMeanwhile | None = None
) -> HttpResponse:
    machines = list(booking.machines.all())
    today = timezone.localdate()
    try:
        move = moving.look_at_move(booking=booking, machines=machines, period=period, by=request.user, today=today)
    except BookingRefused as refusal:
        return _refused(request, booking, period, refusal, changed)
    shown = _shown(request, booking, period) | {"move": move, "changed": changed, "machines": machines}
    return render(request, "season/move_look_over.html", shown, status=409 if changed else 200)


def _refused(
    request: PageRequest,
    booking: Booking,
    period: Period,
    refusal: BookingRefused,
    changed: ChangedMeanwhile | None = None,
) -> HttpResponse:
    nearest = refusal.nearest if isinstance(refusal, MachineTaken) else []
    ways = [(spell.start.isoformat(), spell.end.isoformat(), days_in_words(spell)) for spell in nearest]
    shown = _shown(request, booking, period) | {"refusal": refusal, "ways": ways, "changed": changed}
    return render(request, "season/move_refused.html", shown, status=409)


def _choose(request: PageRequest, booking: Booking, form: MoveForm) -> HttpResponse:
    today = timezone.localdate()
    machines = list(booking.machines.all())
    fits = moving.days_that_fit(booking=booking, machines=machines, today=today)
    season = Season.objects.covering(booking.out_on) or Season.objects.current_or_next(today)
    month = asked_month(request.GET.get("month", ""), booking.out_on)
    nearest = [(spell.start.isoformat(), days_in_words(spell)) for spell in fits[: moving.NEAREST_SHOWN]]
    shown = _shown(request, booking, booking.period) | {
        "form": form,
        "machines": machines,
        "nearest": nearest,
        "month": month.start,
        "earlier": month.start.replace(day=1) - (month.end - month.last_day),
        "later": month.end,
        "weekdays": weekday_names(),
        "weeks": weeks_to_choose(
            month=month, booking=booking, fits=fits, season=season.period if season else None, today=today
        ),
    }
    return render(request, "season/move.html", shown, status=200)


def _shown(request: PageRequest, booking: Booking, period: Period) -> dict[str, Any]:
    """What each of the pages shows, and what it carries on to the next."""
    given = request.POST if request.method == "POST" else request.GET
    return {
        "booking": booking,
        "period": period,
        "then": "season" if given.get("then") == "season" else "",
        "moved_since": _moved_since(given, booking),
    }


def _moved_since(given: QueryDict, booking: Booking) -> bool:
    """Whether the booking stood on another day in the grid from which it was dragged."""
    was = given.get("was", "")
    try:
        return bool(was) and date.fromisoformat(was) != booking.out_on
    except ValueError:
        return False


def _again(request: PageRequest, booking: Booking) -> Booking:
    """The booking as it stands by now."""
    return Booking.objects.visible_to(request.user).with_people().get(pk=booking.pk)
