"""Parts: what they are, what was seen of them, and the spares on the shelf."""

from typing import Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from kitshare.bookings.models import Booking
from kitshare.kits import actions as kits
from kitshare.kits.models import Machine, Part
from kitshare.kits.saving import KitsRefused
from kitshare.kits.weighing import part_load
from kitshare.rules.checklists import PartKind
from kitshare.upkeep.models import Fault
from kitshare.upkeep.shelf_models import ShelfPlace
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.kits.facts import kind_word
from kitshare.web.kits.forms import PartForm, RetireForm
from kitshare.web.kits.views.answers import FormPage, changes, done, form_page, posted
from kitshare.web.kits.views.kits import may_change
from kitshare.web.kits.wear_chart import draw
from kitshare.web.kits.wear_facts import wear_words
from kitshare.web.lifting import guide_in_words, weight_in_words
from kitshare.web.logbook.facts import history_of

CHECKS_SHOWN: Final = 10
CHECKS_DRAWN: Final = 24


def _part(pk: int) -> Part:
    return get_object_or_404(Part.objects.select_related("machine__kit"), pk=pk)


def part_show(request: PageRequest, pk: int) -> HttpResponse:
    """One part: what to look for, what the last checks saw, its spares, and its history."""
    part = _part(pk)
    bookings = Booking.objects.visible_to(request.user)
    seen = part.check_lines.filter(check_of__booking__in=bookings).select_related("check_of__booking__village")
    lines = list(seen.order_by("-check_of__done_at", "-pk")[:CHECKS_DRAWN])
    facts = {
        "part": part,
        "kind": kind_word(part),
        "also_serves": list(part.also_serves.order_by("position", "pk")),
        "seen": lines[:CHECKS_SHOWN],
        "lines": lines[::-1],
        "chart": draw(lines[::-1]),
        "wear": wear_words(part),
        "faults": list(Fault.objects.open().filter(part=part).worst_first()),
        "history": history_of(part, request.user, request.GET.get("before")),
        "may_change": may_change(request),
        "shelves": list(
            ShelfPlace.objects.in_use().filter(thing__part=part).select_related("depot").by_depot().counted()
        ),
        "weight": weight_in_words(part_load(part)),
        "lifting_guide": guide_in_words(),
    }
    return render(request, "kits/part.html", facts)


@for_maintainers
def part_new(request: PageRequest, pk: int) -> HttpResponse:
    machine = get_object_or_404(Machine.objects.select_related("kit"), pk=pk)
    form = PartForm(posted(request), machine=machine)
    if done(form, lambda: kits.add_part(machine=machine, by=request.user, at=timezone.now(), **form.cleaned_data)):
        messages.success(request, _("Added %(name)s.") % {"name": form.cleaned_data["name"]})
        return redirect("kits:part_new" if "another" in request.POST else "kits:machine", pk)
    title = _("Add a part to %(machine)s") % {"machine": machine}
    page = FormPage(title, _("Add the part"), reverse("kits:machine", args=[pk]), second=_("Add it, and another"))
    return form_page(request, form, page)


@for_maintainers
def part_change(request: PageRequest, pk: int) -> HttpResponse:
    part = _part(pk)
    form = PartForm(posted(request), instance=_part(pk), machine=part.machine)
    if done(form, lambda: kits.change_part(part=part, **changes(request, form))):
        messages.success(request, _("Saved."))
        return redirect("kits:part", pk)
    title = _("Change %(name)s") % {"name": part}
    return form_page(request, form, FormPage(title, _("Save the part"), reverse("kits:part", args=[pk])))


@for_maintainers
def part_retire(request: PageRequest, pk: int) -> HttpResponse:
    """Look it over, then retire; the page says what the machine is then without."""
    part = _part(pk)
    form = RetireForm(posted(request))
    if done(
        form,
        lambda: kits.retire_part(
            part=part,
            reason=form.cleaned_data["reason"],
            by=request.user,
            at=timezone.now(),
            today=timezone.localdate(),
        ),
    ):
        messages.success(request, _("%(name)s is retired. It can be brought back from its page.") % {"name": part})
        return redirect("kits:part", pk)
    page = FormPage(
        title=_("Retire %(name)s") % {"name": part},
        button=_("Retire the part"),
        back=reverse("kits:part", args=[pk]),
        lead=_("It leaves the checklists. All that was seen of it stays, and a new part may take its name."),
        warning=_last_of_its_kind(part),
    )
    return render(request, "kits/retire.html", {"form": form, "page": page}, status=422 if form.errors else 200)


def _last_of_its_kind(part: Part) -> str:
    if (
        not part.stops_a_handover
        or part.machine.parts.filter(kind=part.kind, retired_on=None).exclude(pk=part.pk).exists()
    ):
        return ""
    if part.kind == PartKind.VITAL:
        text = _("It is the only vital part listed for %(machine)s: no check would ask for one afterwards.")
    else:
        text = _(
            "It is the only guard part listed for %(machine)s: no check would ask for a guard afterwards."
            " Retire it only if another guard takes its place."
        )
    return text % {"machine": part.machine}


@for_maintainers
@require_POST
def part_bring_back(request: PageRequest, pk: int) -> HttpResponse:
    part = _part(pk)
    try:
        kits.bring_back_part(part=part, by=request.user, at=timezone.now())
        messages.success(request, _("%(name)s is in use again.") % {"name": part})
    except KitsRefused as refusal:
        messages.error(request, str(refusal))
    return redirect("kits:part", pk)
