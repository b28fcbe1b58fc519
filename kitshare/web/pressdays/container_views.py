"""The kinds of container that villages plan with, kept by the coordinator."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.pressdays import kinds as containers
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.refusals import KindRefused
from kitshare.rules.containers import Use
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.lifting import guide_in_words
from kitshare.web.lists import on_pages
from kitshare.web.logbook.facts import history_of
from kitshare.web.pressdays.forms import ContainerKindForm
from kitshare.web.pressdays.kind_facts import crate_weight, may_hold
from kitshare.web.pressdays.tables import ContainerKindTable


@for_coordinators
def kinds(request: PageRequest) -> HttpResponse:
    table = ContainerKindTable(ContainerKind.objects.order_by("position", "pk"), scheme=request.our_scheme)
    on_pages(request, table)
    return render(request, "pressdays/kinds.html", {"table": table, "some": bool(table.paginator.count)})


@for_coordinators
def kind_new(request: PageRequest) -> HttpResponse:
    form = ContainerKindForm(request.POST or None)
    if form.is_valid():
        try:
            kind = containers.add_container_kind(**form.cleaned_data, by=request.user, at=timezone.now())
        except KindRefused as refused:
            form.add_error(refused.field, str(refused))
        else:
            messages.success(request, _("Added %(name)s. Villages can plan with it now.") % {"name": kind})
            return redirect("pressdays:kinds")
    return render(request, "pressdays/kind_new.html", {"form": form})


@for_coordinators
def kind_change(request: PageRequest, pk: int) -> HttpResponse:
    kind = get_object_or_404(ContainerKind, pk=pk)
    # Before the form writes what was typed into its own copy of the row.
    name, holds = kind.name, may_hold(kind, request.our_scheme)
    weight, crates = crate_weight(kind, Use(kind.usual_use)), kind.per_crate > 1
    form = ContainerKindForm(request.POST or None, instance=kind)
    if form.is_valid():
        try:
            containers.change_container_kind(kind=kind, **form.cleaned_data, by=request.user, at=timezone.now())
        except ChangedMeanwhile as change:
            form.refuse_for(change)
        except KindRefused as refused:
            form.add_error(refused.field, str(refused))
        else:
            messages.success(request, _("Saved. Plans that use it are worked out with it from now on."))
            return redirect("pressdays:kinds")
    history = history_of(kind, request.user, request.GET.get("before"))
    facts = {"form": form, "kind": kind, "name": name, "holds": holds, "history": history}
    facts |= {"weight": weight, "crates": crates, "lifting_guide": guide_in_words()}
    return render(request, "pressdays/kind_change.html", facts)


@require_POST
@for_coordinators
def kind_retire(request: PageRequest, pk: int) -> HttpResponse:
    kind = get_object_or_404(ContainerKind, pk=pk)
    containers.retire_container_kind(kind=kind, on=timezone.localdate(), by=request.user, at=timezone.now())
    messages.success(request, _("Retired %(name)s. Plans that have it keep it.") % {"name": kind})
    return redirect("pressdays:kinds")


@require_POST
@for_coordinators
def kind_bring_back(request: PageRequest, pk: int) -> HttpResponse:
    kind = get_object_or_404(ContainerKind, pk=pk)
    containers.bring_back_container_kind(kind=kind, by=request.user, at=timezone.now())
    messages.success(request, _("%(name)s is in use again.") % {"name": kind})
    return redirect("pressdays:kinds")


@require_POST
@for_coordinators
def starter_kinds(request: PageRequest) -> HttpResponse:
    added = len(containers.add_starter_kinds(by=request.user, at=timezone.now()))
    words = ngettext("Added %(count)s kind of container.", "Added %(count)s kinds of container.", added)
    messages.success(request, words % {"count": added})
    return redirect("pressdays:kinds")
