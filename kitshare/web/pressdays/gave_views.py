"""What a press day gave: read, written down in a minute, corrected, and taken out again."""

from collections.abc import Callable
from datetime import date
from functools import partial

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from kitshare.bookings.models import Booking
from kitshare.pressdays import recording
from kitshare.pressdays.record_models import PressDayRecord
from kitshare.pressdays.record_refusals import (
    DayChangedMeanwhile,
    NothingToRecord,
    NotTheirsToRecord,
    RecordRefused,
)
from kitshare.web.access import PageRequest
from kitshare.web.pressdays.gave_facts import gave_facts, kinds_of_fruit, word_after
from kitshare.web.pressdays.gave_forms import DayForm, days_to_choose


@require_http_methods(["GET", "HEAD", "POST"])
def gave(request: PageRequest, booking_pk: int) -> HttpResponse:
    """The days of a booking with what they gave, and a form for one that is not recorded yet."""
    booking = get_object_or_404(Booking.objects.visible_to(request.user).select_related("village"), pk=booking_pk)
    if request.method == "POST" and (answer := _refused_at_the_door(request, booking)):
        return answer
    facts = gave_facts(booking, request.user)
    form = None
    if facts.may_record:
        days = _days(booking, {day.record.day for day in facts.days} if request.method != "POST" else set())
        form = DayForm(request.POST or None, booking=booking, days=days, units=request.our_scheme.units)
        if request.method == "POST" and form.is_valid():
            record = _save(request, form, partial(recording.record_day, booking=booking))
            if record:
                messages.success(request, word_after(record))
                return redirect("pressdays:gave", booking.pk)
        if not days:
            form = None
    shown = {"gave": facts, "booking": booking, "form": form, "kinds": kinds_of_fruit() if form else []}
    return render(request, "pressdays/gave.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
def gave_correct(request: PageRequest, pk: int) -> HttpResponse:
    """Put other figures in place of those recorded."""
    record = _record(request, pk)
    if answer := _refused_at_the_door(request, record.booking):
        return answer
    facts = gave_facts(record.booking, request.user)
    days = _days(record.booking, {day.record.day for day in facts.days if day.record.pk != record.pk})
    form = DayForm(
        request.POST if request.method == "POST" else None,
        booking=record.booking,
        days=days,
        units=request.our_scheme.units,
        correcting=record,
    )
    if request.method == "POST" and form.is_valid():
        seen = form.cleaned_data["revision"]
        saved = _save(request, form, partial(recording.correct_day, record=record, seen_revision=seen))
        if saved:
            messages.success(request, word_after(saved))
            return redirect("pressdays:gave", record.booking_id)
    shown = {"gave": facts, "booking": record.booking, "record": record, "form": form, "kinds": kinds_of_fruit()}
    return render(request, "pressdays/gave_correct.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
def gave_take_out(request: PageRequest, pk: int) -> HttpResponse:
    """Take out the record of a day that was none: a page asks once more."""
    record = _record(request, pk)
    if answer := _refused_at_the_door(request, record.booking):
        return answer
    if request.method == "POST":
        recording.take_out_day(record=record, by=request.user, at=timezone.now())
        messages.success(request, _("Taken out. Its figures stay in the booking’s history."))
        return redirect("pressdays:gave", record.booking_id)
    words = {"record": record, "booking": record.booking, "figures": recording.in_figures(record)}
    return render(request, "pressdays/gave_take_out.html", words)


def _save(
    request: PageRequest, form: DayForm, correct_or_record: Callable[..., PressDayRecord]
) -> PressDayRecord | None:
    """Do the deed with what was typed; None where it is refused, which the form then says."""
    try:
        return correct_or_record(
            day=form.cleaned_data["day"],
            given=form.given(),
            machines=list(form.cleaned_data["machines"]),
            by=request.user,
            at=timezone.now(),
            today=timezone.localdate(),
        )
    except DayChangedMeanwhile as refused:
        form.refuse(refused)
        form.see_again(refused.record.revision)
    except RecordRefused as refused:
        form.refuse(refused)
    return None


def _days(booking: Booking, taken: set[date]) -> list[date]:
    last = recording.last_day(booking, today=timezone.localdate())
    return days_to_choose(booking, last, taken)


def _record(request: PageRequest, pk: int) -> PressDayRecord:
    mine = PressDayRecord.objects.visible_to(request.user)
    return get_object_or_404(mine.select_related("booking__village", "recorded_by"), pk=pk)


def _refused_at_the_door(request: PageRequest, booking: Booking) -> HttpResponse | None:
    try:
        recording.check_can_record(booking=booking, by=request.user)
    except NotTheirsToRecord as refused:
        raise PermissionDenied(str(refused)) from refused
    except NothingToRecord as refused:
        messages.error(request, str(refused))
        return redirect("bookings:show", booking.pk)
    return None
