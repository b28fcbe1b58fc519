"""A fault's own page with the deeds on it, and its photos."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.kits.pictures import PhotoRefused
from kitshare.upkeep import eligibility
from kitshare.upkeep.models import Fault
from kitshare.upkeep.photo_models import FaultPhoto, PhotoWhen
from kitshare.upkeep.picturing import keep_fault_photo
from kitshare.upkeep.refusals import FaultChangedMeanwhile, FaultRefused, NotTheirs
from kitshare.upkeep.shelf_models import ShelfPlace
from kitshare.upkeep.shelf_refusals import ShelfRefused
from kitshare.web.access import PageRequest
from kitshare.web.photos import photo_answer
from kitshare.web.upkeep import bench, facts
from kitshare.web.upkeep.deeds import DEEDS
from kitshare.web.upkeep.forms import DeedForm, PhotoForm, SpentForm


@require_safe
def fault(request: PageRequest, pk: int) -> HttpResponse:
    """A fault's own page. Every member may read it: whoever takes the machine has a right to know."""
    return _page(request, _fetch(pk))


@require_http_methods(["GET", "HEAD", "POST"])
def deed(request: PageRequest, pk: int, name: str) -> HttpResponse:
    """Do one of the deeds on a fault. Whoever comes by a link, after signing in anew say, lands on the page."""
    fault = _fetch(pk)
    if request.method != "POST":
        return redirect("upkeep:fault", pk=pk)
    chosen = DEEDS[name]
    form = _form(request, name, fault, request.POST)
    if not (eligibility.mends(request.user) or (name == "note" and eligibility.note_can(fault=fault, by=request.user))):
        raise PermissionDenied(str(NotTheirs()))
    if not form.is_valid():
        return _page(request, fault, refused=(chosen.shown_as, form))
    try:
        chosen.action(fault=fault, by=request.user, at=timezone.now(), **form.cleaned_data)
    except (FaultRefused, ShelfRefused) as refusal:
        return _refused(request, pk, name, refusal)
    messages.success(request, chosen.done)
    return redirect("upkeep:fault", pk=pk)


def _refused(request: PageRequest, pk: int, name: str, refusal: FaultRefused | ShelfRefused) -> HttpResponse:
    """The page as it stands now, with what was typed. Sent again, it goes by what can be read there now."""
    fault = _fetch(pk)
    typed = request.POST.copy()
    typed["revision"] = str(fault.revision)
    form = _form(request, name, fault, typed)
    form.is_valid()
    form.add_error(form.field_of(refusal), str(refusal))
    status = 409 if isinstance(refusal, FaultChangedMeanwhile) else 200
    return _page(request, fault, refused=(DEEDS[name].shown_as, form), status=status)


def _form(request: PageRequest, name: str, fault: Fault, typed: QueryDict | None = None) -> DeedForm:
    form = DEEDS[name].form
    more = {"currency": request.our_scheme.currency} if issubclass(form, SpentForm) else {}
    return form(typed, fault=fault, **more)


@require_http_methods(["GET", "HEAD", "POST"])
def photo_new(request: PageRequest, pk: int) -> HttpResponse:
    """Keep a photo at a fault. Whoever comes by a link lands on the page."""
    fault = _fetch(pk)
    if request.method != "POST":
        return redirect("upkeep:fault", pk=pk)
    if not eligibility.note_can(fault=fault, by=request.user):
        raise PermissionDenied(str(NotTheirs()))
    form = PhotoForm(request.POST, request.FILES, fault=fault)
    if form.is_valid():
        when = PhotoWhen(form.cleaned_data["when"])
        try:
            keep_fault_photo(
                fault=fault, upload=form.cleaned_data["photo"], when=when, by=request.user, at=timezone.now()
            )
        except PhotoRefused as refusal:
            form.add_error("photo", str(refusal))
        else:
            messages.success(request, _("The photo is kept."))
            return redirect("upkeep:fault", pk=pk)
    return _page(request, fault, photo_form=form, status=422)


@require_safe
def photo(request: PageRequest, key: UUID) -> FileResponse | HttpResponse:
    """A photo at a fault, for every member: they may read the fault's page too."""
    kept = get_object_or_404(FaultPhoto, key=key)
    return photo_answer(kept.image, kept.key)


def _fetch(pk: int) -> Fault:
    joined = ("joined_to__machine__kit", "joined_to__part")
    return get_object_or_404(bench.whole().select_related(*joined), pk=pk)


def _page(
    request: PageRequest,
    fault: Fault,
    refused: tuple[str, DeedForm] | None = None,
    photo_form: PhotoForm | None = None,
    status: int = 200,
) -> HttpResponse:
    today = timezone.localdate()
    forms = {deed.shown_as: _form(request, name, fault) for name, deed in DEEDS.items()}
    notes = list(fault.notes.select_related("by").order_by("revision"))
    if refused is not None:
        forms[refused[0]] = refused[1]
    need = facts.needs_of([fault.machine_id], today)[fault.machine_id]
    open_to_them = facts.deeds_open_to(request.user, fault)
    if refused is not None and refused[1].visible_fields():
        open_to_them[refused[0]] = True  # what was typed stays, even where the deed is closed by now
    runs = eligibility.mends(request.user)
    shown = {
        "fault": fault,
        "tone": facts.tone_of(fault),
        "retired": facts.retired_in_words(fault) if fault.is_open else "",
        "next_step": facts.next_step(fault, today),
        "need": need if runs else None,
        "need_words": facts.need_in_words(fault, need, today) if runs and fault.is_open else "",
        "cautions": facts.cautions_for(fault.machine, fault.part),
        "used": fault.used.select_related("place__thing", "place__depot").order_by("pk"),
        "spares": ShelfPlace.objects.spares_of([fault.part]).get(fault.part.pk, 0) if fault.part else 0,
        "joined": fault.joined.select_related("machine", "part").order_by("pk"),
        "notes": notes,
        "spent": facts.spent_on(notes, request.our_scheme.currency),
        "photos": fault.photos.select_related("by").order_by("-when", "at", "pk"),
        "lines": facts.seen_at_checks(fault) if runs else [],
        "deeds": open_to_them,
        "forms": forms,
        "photo_form": photo_form or PhotoForm(fault=fault),
        "form": refused[1] if refused else photo_form,
        "runs": runs,
    }
    return render(request, "upkeep/fault.html", shown, status=status)
