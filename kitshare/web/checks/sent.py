"""Sheets that phones sent and that could not become the check: the list, and one of them."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Booking
from kitshare.checks import keeping
from kitshare.checks.gates import HandoverRefused
from kitshare.checks.merging import in_words
from kitshare.checks.models import CheckKind, Photo
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.kits.models import Part
from kitshare.people.models import Member
from kitshare.web.access import PageRequest
from kitshare.web.checks.forms import DealtWithForm
from kitshare.web.checks.tables import SentSheetTable
from kitshare.web.lists import on_pages

TONES = {
    SheetState.UNJUDGED: "care",
    SheetState.RECORDED: "done",
    SheetState.KEPT: "stop",
    SheetState.MERGED: "quiet",
    SheetState.WRONG: "care",
}


@require_safe
def sent_list(request: PageRequest) -> HttpResponse:
    """The sheets that were kept: those that need somebody, or all that came from phones."""
    sheets = SentSheet.objects.visible_to(request.user).select_related("by", "booking__village", "dealt_by")
    shows_all = request.GET.get("which") == "all"
    table = SentSheetTable(
        sheets.order_by("-received_at", "-pk") if shows_all else sheets.loud().order_by("received_at", "pk")
    )
    on_pages(request, table)
    return render(request, "checks/sent_list.html", {"table": table, "shows_all": shows_all})


def sent(request: PageRequest, pk: int) -> HttpResponse:
    """One sheet as it was sent, why it is not the check, and what is done about it."""
    sheets = SentSheet.objects.visible_to(request.user)
    sheet = get_object_or_404(
        sheets.select_related("by", "booking__village", "recorded_as", "dealt_by", "from_booking__village"), pk=pk
    )
    form = DealtWithForm(request.POST if request.POST.get("deed") == "deal_with" else None)
    refusal = None
    if request.method == "POST":
        try:
            done = _act(request, sheet, form)
        except HandoverRefused as refused:
            refusal = refused
        else:
            if done:
                messages.success(request, done)
                return redirect("checks:sent", sheet.pk)
    context = {
        "sheet": sheet,
        "kind": CheckKind(sheet.kind).label,
        "tone": TONES[SheetState(sheet.state)],
        "said": (sheet.answer or {}).get("said", {}),
        "lines": _lines(sheet),
        "photos": Photo.objects.filter(sheets=sheet).order_by("pk"),
        "clock_off": _how_long(abs(sheet.clock_ahead)),
        "form": form,
        "refusal": refusal,
        "back": _back(sheet, request.user),
        "settles": request.user.coordinates and sheet.is_open,
    }
    return render(request, "checks/sent.html", context)


def _act(request: PageRequest, sheet: SentSheet, form: DealtWithForm) -> str:
    """Do what was pressed, and say what was done; nothing where the form is wrong."""
    signed: dict[str, Any] = {"by": request.user, "at": timezone.now()}
    if request.POST.get("deed") == "again":
        keeping.take_up_again(sheet=sheet, **signed)
        return _("Recorded.")
    if form.is_valid():
        keeping.deal_with_sheet(sheet=sheet, note=form.cleaned_data["note"], **signed)
        return _("Dealt with. The sheet stays here.")
    return ""


def _back(sheet: SentSheet, member: Member) -> Booking | None:
    """The booking that the member may see: of a relay's two perhaps the other; none once they left the village."""
    ends = [key for key in (sheet.booking_id, sheet.from_booking_id) if key]
    found = Booking.objects.visible_to(member).in_bulk(ends)
    return next((found[key] for key in ends if key in found), None)


def _how_long(seconds: int) -> str:
    """By how much a clock was off, as one says it."""
    hours = round(seconds / 3600)
    if hours >= 2 * 24:
        return ngettext("%(count)d day", "%(count)d days", hours // 24) % {"count": hours // 24}
    if hours >= 2:
        return ngettext("%(count)d hour", "%(count)d hours", hours) % {"count": hours}
    return ngettext("%(count)d minute", "%(count)d minutes", seconds // 60) % {"count": seconds // 60}


def _lines(sheet: SentSheet) -> list[dict[str, str]]:
    parts = Part.objects.in_bulk([line["part"] for line in sheet.body["lines"]])
    return [
        {
            "name": parts[line["part"]].name,
            "seen": in_words(
                line["count"],
                max(line["count"], parts[line["part"]].expected_count),
                line["condition"],
                spare_fitted=line["spare"],
            ),
            "note": line["note"],
        }
        for line in sheet.body["lines"]
        if line["part"] in parts
    ]
