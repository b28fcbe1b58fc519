"""Kits and the depots they live at."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from kitshare.bookings import arriving, retiring
from kitshare.kits import actions as kits
from kitshare.kits.coding import code_of
from kitshare.kits.models import Depot, Kit, Machine
from kitshare.kits.starter import STARTER_MACHINES
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.feed_addresses import change_address
from kitshare.web.kits.facts import kit_cards, machine_rows
from kitshare.web.kits.forms import DepotForm, KitForm, RetireForm, StarterForm
from kitshare.web.kits.views.answers import FormPage, changes, done, form_page, posted, signed
from kitshare.web.logbook.facts import history_of


def may_change(request: PageRequest) -> bool:
    """Whether the buttons that change things are shown; the pages behind them ask again."""
    return request.user.maintains or request.user.coordinates


def kit_list(request: PageRequest) -> HttpResponse:
    """Every kit, its machines, and how they stand."""
    in_use = Kit.objects.in_use().select_related("depot").with_machines().order_by("name", "pk")
    facts = {
        "cards": kit_cards(in_use, timezone.localdate()),
        "retired": list(Kit.objects.exclude(retired_on=None).order_by("name", "pk")),
        "depots": list(Depot.objects.order_by("name", "pk")),
        "may_change": may_change(request),
    }
    return render(request, "kits/list.html", facts)


def kit_show(request: PageRequest, pk: int) -> HttpResponse:
    """One kit: its machines and its history."""
    kit = get_object_or_404(Kit.objects.select_related("depot"), pk=pk)
    machines = list(kit.machines.order_by("position", "pk"))
    facts = {
        "kit": kit,
        "rows": machine_rows((machine for machine in machines if not machine.retired_on), timezone.localdate()),
        "retired": [machine for machine in machines if machine.retired_on],
        "code": code_of(kit),
        "history": history_of(kit, request.user, request.GET.get("before")),
        "may_change": may_change(request),
    }
    return render(request, "kits/show.html", facts)


@for_maintainers
def kit_new(request: PageRequest) -> HttpResponse:
    if not Depot.objects.exists():
        messages.warning(request, _("A kit lives at a depot. Add the depot first."))
        return redirect("kits:depot_new")
    form = KitForm(posted(request))
    added: list[Kit] = []
    if done(form, lambda: added.append(kits.add_kit(by=request.user, at=timezone.now(), **form.cleaned_data))):
        messages.success(request, _("Added the kit %(name)s. Now add its machines.") % {"name": added[0]})
        return redirect("kits:show", added[0].pk)
    return form_page(request, form, FormPage(_("Add a kit"), _("Add the kit"), reverse("kits:list")))


@for_maintainers
def kit_change(request: PageRequest, pk: int) -> HttpResponse:
    kit = get_object_or_404(Kit, pk=pk)
    # The form fills a row of its own, so that the action can tell what differs.
    form = KitForm(posted(request), instance=get_object_or_404(Kit, pk=pk))
    if done(form, lambda: arriving.change_kit(kit=kit, today=timezone.localdate(), **changes(request, form))):
        messages.success(request, _("Saved."))
        return redirect("kits:show", pk)
    title = _("Change %(name)s") % {"name": kit}
    return form_page(request, form, FormPage(title, _("Save the kit"), reverse("kits:show", args=[pk])))


@for_maintainers
def kit_retire(request: PageRequest, pk: int) -> HttpResponse:
    """Look it over, then retire; refused while somebody counts on the kit."""
    kit = get_object_or_404(Kit, pk=pk)
    form = RetireForm(posted(request))
    if done(
        form,
        lambda: retiring.retire_kit(
            kit=kit,
            reason=form.cleaned_data["reason"],
            by=request.user,
            at=timezone.now(),
            today=timezone.localdate(),
        ),
    ):
        messages.success(request, _("%(name)s is retired. It can be brought back from its page.") % {"name": kit})
        return redirect("kits:show", pk)
    page = FormPage(
        title=_("Retire %(name)s") % {"name": kit},
        button=_("Retire the kit"),
        back=reverse("kits:show", args=[pk]),
        lead=_(
            "Nobody can book it or its machines any more. All that is known of it stays, and it can be brought back."
        ),
    )
    facts = {"form": form, "page": page, "promises": retiring.promises_of(Machine.objects.filter(kit=kit))}
    return render(request, "kits/retire.html", facts, status=422 if form.errors else 200)


@for_maintainers
@require_POST
def kit_bring_back(request: PageRequest, pk: int) -> HttpResponse:
    kit = get_object_or_404(Kit, pk=pk)
    arriving.bring_back_kit(kit=kit, **signed(request))
    messages.success(request, _("%(name)s is in use again.") % {"name": kit})
    return redirect("kits:show", pk)


@for_maintainers
@require_POST
def kit_feed(request: PageRequest, pk: int) -> HttpResponse:
    """A new address for the kit's calendar, or none."""
    change_address(request, of=get_object_or_404(Kit, pk=pk))
    return redirect("kits:show", pk)


@for_maintainers
def kit_starter(request: PageRequest, pk: int) -> HttpResponse:
    """Machines and parts to begin with, to be edited afterwards."""
    kit = get_object_or_404(Kit, pk=pk)
    form = StarterForm(posted(request))
    if done(
        form,
        lambda: arriving.add_starter_machines(kit=kit, choices=form.cleaned_data["machines"], **signed(request)),
    ):
        messages.success(request, _("Added. Go through each list now: change what differs, retire what you have not."))
        return redirect("kits:show", pk)
    ticked = request.POST.getlist("machines")
    facts = {"form": form, "kit": kit, "ticked": ticked, "starters": STARTER_MACHINES}
    return render(request, "kits/starter.html", facts, status=422 if form.errors else 200)


@for_maintainers
def depot_new(request: PageRequest) -> HttpResponse:
    form = DepotForm(posted(request))
    if done(form, lambda: kits.add_depot(by=request.user, at=timezone.now(), **form.cleaned_data)):
        messages.success(request, _("Added the depot."))
        return redirect("kits:list")
    return form_page(request, form, FormPage(_("Add a depot"), _("Add the depot"), reverse("kits:list")))


@for_maintainers
def depot_change(request: PageRequest, pk: int) -> HttpResponse:
    depot = get_object_or_404(Depot, pk=pk)
    form = DepotForm(posted(request), instance=get_object_or_404(Depot, pk=pk))
    if done(form, lambda: kits.change_depot(depot=depot, **changes(request, form))):
        messages.success(request, _("Saved."))
        return redirect("kits:list")
    title = _("Change %(name)s") % {"name": depot}
    return form_page(request, form, FormPage(title, _("Save the depot"), reverse("kits:list")))
