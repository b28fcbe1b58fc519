"""Which reminder goes to whom, when and by which channel: for the coordinator to see and to change."""

from datetime import time
from typing import Any, Final

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.reminders import policy
from kitshare.reminders.models import Kind, ReminderRow
from kitshare.reminders.preview import Weeks, weeks_of
from kitshare.reminders.refusals import PolicyRefused
from kitshare.reminders.terms import TERMS
from kitshare.reminders.words import in_words
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.logbook.facts import history_of
from kitshare.web.reminders.facts import grouped
from kitshare.web.reminders.forms import RowForm

SHOWN: Final = 30  # lines of a preview; the count says how many there are


@require_safe
@for_coordinators
def policy_list(request: PageRequest) -> HttpResponse:
    """Every row of the policy, by what it is about."""
    rows = policy.all_rows(at=timezone.now())
    return render(request, "reminders/list.html", {"groups": grouped(rows), "zone": request.our_scheme.zone})


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def row_new(request: PageRequest, kind: str) -> HttpResponse:
    """Remind of something once more."""
    if kind not in TERMS or not TERMS[kind].may_be_several:
        raise Http404
    row = ReminderRow(kind=kind, at=time(7))
    return _row_page(request, row, "reminders/new.html")


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def row_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change a row, with a look at whom it would have told."""
    row = get_object_or_404(ReminderRow, pk=pk)
    history = history_of(row, request.user, request.GET.get("before"))
    return _row_page(
        request, row, "reminders/change.html", history=history, here=reverse("reminders:change", args=[pk])
    )


def _row_page(request: PageRequest, row: ReminderRow, template: str, **more: object) -> HttpResponse:
    form = RowForm(request.POST if request.method == "POST" else None, row=row)
    looks = "look" in request.POST
    if request.method == "POST" and form.is_valid() and _done(request, row, form, looks=looks):
        return redirect("reminders:list")
    kept = in_words(row) if row.pk else ""
    shown = {
        "form": form,
        "row": row,
        "kind": Kind(row.kind),
        "terms": TERMS[row.kind],
        "words": kept,
        **_preview(request, row, form),
        **more,
    }
    return render(request, template, shown, status=422 if form.errors else 200)


def _done(request: PageRequest, row: ReminderRow, form: RowForm, *, looks: bool) -> bool:
    """Whether it was saved. Whoever only looks is told what would be refused, and nothing is kept."""
    signed: dict[str, Any] = {"by": request.user, "at": timezone.now()}
    try:
        if looks:
            policy.check_row(ReminderRow(pk=row.pk, kind=row.kind, **form.said()))
            return False
        if row.pk:
            saved = policy.change_row(row=row, said=form.said(), seen=form.cleaned_data.get("seen"), **signed)
        else:
            saved = policy.add_row(kind=row.kind, said=form.said(), **signed)
    except (PolicyRefused, ChangedMeanwhile) as refusal:
        form.refuse(refusal)
        return False
    words = {"name": Kind(row.kind).label, "row": in_words(saved)}
    messages.success(request, _("Saved. “%(name)s” goes %(row)s.") % words)
    return True


def _preview(request: PageRequest, row: ReminderRow, form: RowForm) -> dict[str, Any]:
    """Whom the row tells as it is typed; as it is kept, where nothing is typed; nobody where it cannot be so."""
    if form.is_bound:
        if form.errors:
            return {}
        row = ReminderRow(pk=row.pk, kind=row.kind, usual=row.usual, **form.said())
    elif not row.pk:
        return {}
    weeks: Weeks = weeks_of(
        row, scheme=request.our_scheme, others=ReminderRow.objects.on().filter(kind=row.kind), at=timezone.now()
    )
    return {"weeks": weeks, "shown": SHOWN, "typed": in_words(row) if form.is_bound else ""}


@require_POST
@for_coordinators
def switch(request: PageRequest, pk: int) -> HttpResponse:
    """Switch a row on or off; the same button, pressed again, undoes it."""
    row = get_object_or_404(ReminderRow, pk=pk)
    is_on = request.POST.get("on") == "yes"
    try:
        row = policy.switch_row(row=row, is_on=is_on, by=request.user, at=timezone.now())
    except PolicyRefused as refusal:
        messages.warning(request, str(refusal))
        return redirect("reminders:list")
    words = {"name": Kind(row.kind).label, "row": in_words(row)}
    text = _("Switched off: “%(name)s”, %(row)s. It stays in the list; switch it on again there.")
    if is_on:
        text = _("Switched on: “%(name)s”, %(row)s.")
    messages.success(request, text % words)
    return redirect(f"{reverse('reminders:list')}#{row.kind}")


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def usual(request: PageRequest) -> HttpResponse:
    """Look over what going back to the usual rows would change, then do it."""
    if request.method == "POST":
        count = policy.back_to_usual(by=request.user, at=timezone.now())
        messages.success(request, _("The usual reminders stand again.") if count else _("They were the usual ones."))
        return redirect("reminders:list")
    differs = [(row, in_words(row)) for row in policy.differs_from_usual(policy.all_rows(at=timezone.now()))]
    return render(request, "reminders/usual.html", {"differs": differs})
