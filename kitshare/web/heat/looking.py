"""Looking a log over before it counts: what was found in it, what it does not say, and which bottles it stands for."""

from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from kitshare.pressdays import heat_drafts, heat_records
from kitshare.pressdays.heat_judging import curve_of, work_out
from kitshare.pressdays.heat_models import Came, HeatDraft, HeatRecord
from kitshare.pressdays.heat_refusals import HeatRefused
from kitshare.pressdays.planning import recommendation_of
from kitshare.pressdays.words import log_refusal
from kitshare.rules.heat import DEFAULT_LONGEST_GAP_MINUTES
from kitshare.rules.probes import Correction
from kitshare.rules.readings import LogProblem, LogRefused, ReadLog, TemperatureUnit, TimeForm, UnitUnknown
from kitshare.web.access import PageRequest
from kitshare.web.heat.batch_form import BatchForm, answers
from kitshare.web.heat.chart import draw
from kitshare.web.heat.facts import found_lines


@dataclass(slots=True, kw_only=True)
class Looked:
    """A draft as far as it can be read with the answers given so far."""

    read: ReadLog | None = None
    asks_unit: bool = False
    asks_time: bool = False
    columns: list[tuple[int, str]] = field(default_factory=list)
    refusal: str = ""


def look_at(draft: HeatDraft, unit: TemperatureUnit | None, time_form: TimeForm | None, column: int | None) -> Looked:
    """Read a draft, and find out what it does not say itself. An answer given stays a question that can be changed."""
    looked = Looked(asks_time=time_form is not None)
    try:
        looked.read = heat_drafts.read(draft, time_form=time_form, column=column)
        looked.asks_unit = not looked.read.found.unit_marked
        looked.asks_time = looked.asks_time or looked.read.found.time_assumed
    except UnitUnknown:
        looked.asks_unit = True
    except LogRefused as refused:
        looked.asks_time = looked.asks_time or refused.problem == LogProblem.TIME_UNIT_UNKNOWN
        looked.refusal = "" if refused.problem == LogProblem.TIME_UNIT_UNKNOWN else log_refusal(refused)
    if unit is not None and looked.asks_unit and not looked.refusal:
        looked.read = None
        try:
            looked.read = heat_drafts.read(draft, unit=unit, time_form=time_form, column=column)
        except LogRefused as refused:
            looked.refusal = log_refusal(refused)
    looked.columns = _columns(draft, looked, column)
    return looked


def _columns(draft: HeatDraft, looked: Looked, column: int | None) -> list[tuple[int, str]]:
    """The columns that may hold the temperature, in the order of the log; found in any unit where the unit is asked."""
    found = looked.read.found if looked.read else None
    if found is None:
        try:
            found = heat_drafts.read(draft, unit=TemperatureUnit.FAHRENHEIT, time_form=TimeForm.MINUTES).found
        except LogRefused:
            return []
    names = (found.column, *found.other_columns)
    labelled = zip(found.places, names, strict=True)
    return sorted((place, name or _("column %(place)s") % {"place": place + 1}) for place, name in labelled)


@require_http_methods(["GET", "HEAD", "POST"])
def look(request: PageRequest, key: Any) -> HttpResponse:
    """Look a log over; answer what it does not say; say which bottles it is about; save."""
    draft = get_object_or_404(
        HeatDraft.objects.of(request.user).select_related("booking__village", "replaces"), key=key
    )
    recorded = HeatRecord.objects.filter(key=draft.key).first()
    if recorded is not None:
        return redirect("heat:record", recorded.pk)
    typed = request.POST if request.method == "POST" else None
    unit, time_form, column = answers(typed) if typed is not None else (None, None, None)
    looked = look_at(draft, unit, time_form, column)
    today = timezone.localdate()
    form = BatchForm(typed, booking=draft.booking, replaces=draft.replaces, today=today)
    form.ask_only(unit=looked.asks_unit, time_unit=looked.asks_time, columns=looked.columns)
    if looked.read and column is None:
        form.initial["column"] = looked.read.found.places[0]
    if typed is not None and "save" in typed and form.is_valid():
        answer = _save(request, draft, looked, form)
        if answer is not None:
            return answer
    if typed is not None and "save" not in typed:
        # Read again with the answers; what was typed below is not judged yet.
        form = _unjudged(form, typed)
    return _page(request, draft, looked, form)


@require_POST
def forget(request: PageRequest, key: Any) -> HttpResponse:
    """Forget a log that was not saved."""
    draft = get_object_or_404(HeatDraft.objects.of(request.user), key=key)
    heat_drafts.throw_away(draft=draft, by=request.user)
    messages.success(request, _("Forgotten. Nothing was recorded."))
    return redirect("heat:batches", draft.booking_id)


def _unjudged(form: BatchForm, typed: Any) -> BatchForm:
    again = BatchForm(initial=typed.dict(), booking=form.booking, replaces=form.replaces, today=form.today)
    again.initial = typed.dict()
    for name in list(again.fields):
        if name not in form.fields:
            del again.fields[name]
    if "column" in form.fields:
        again.fields["column"].choices = form.fields["column"].choices  # type: ignore[attr-defined]
    return again


def _save(request: PageRequest, draft: HeatDraft, looked: Looked, form: BatchForm) -> HttpResponse | None:
    """Record the batch, or say by its field why not."""
    if looked.read is None:
        if looked.refusal:
            form.add_error(None, looked.refusal)
        return None
    batch = form.batch()
    try:
        record = heat_records.record_heat(
            booking=draft.booking,
            batch=batch,
            judged=work_out(
                looked.read,
                recommendation=recommendation_of(request.our_scheme),
                probe=batch.probe,
                filled_on=batch.filled_on,
                ph=_within(batch.ph),
            ),
            came=Came(draft.came),
            file_name=draft.file_name,
            key=draft.key,
            replaces=draft.replaces,
            why_replaced=form.cleaned_data.get("why_replaced", ""),
            by=request.user,
            at=timezone.now(),
            today=timezone.localdate(),
        )
    except HeatRefused as refusal:
        form.refuse(refusal)
        return None
    messages.success(request, _("Saved. Write %(code)s on the bottles.") % {"code": record.shown_code})
    return redirect("heat:record", record.pk)


def _within(ph: Any) -> float | None:
    """A pH that the rules can judge; the deed refuses any other in words."""
    return float(ph) if ph is not None and 0 <= ph <= 14 else None


def _page(request: PageRequest, draft: HeatDraft, looked: Looked, form: BatchForm) -> HttpResponse:
    read = looked.read
    shown: dict[str, Any] = {"draft": draft, "booking": draft.booking, "form": form, "looked": looked}
    if read is not None:
        log = read.log
        shown |= {
            "lines": found_lines(read),
            "chart": draw(curve_of(log, Correction(), DEFAULT_LONGEST_GAP_MINUTES)),
            "ends": _ends(read),
        }
    status = 422 if request.method == "POST" and form.errors else 200
    return render(request, "heat/look.html", shown, status=status)


def _ends(read: ReadLog, few: int = 3) -> list[tuple[float, float] | None]:
    """The first and the last readings, with nothing for those between."""
    pairs = list(zip(read.log.minutes, read.log.celsius, strict=True))
    return [*pairs] if len(pairs) <= 2 * few else [*pairs[:few], None, *pairs[-few:]]
