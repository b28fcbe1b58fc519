"""Machines, and the order in which a kit is packed."""

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
from kitshare.kits.models import Kit, Machine, MachineKind
from kitshare.upkeep.models import Fault
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.kits.facts import figures_of, gaps, machine_rows, part_groups
from kitshare.web.kits.forms import FiguresForm, MachineForm, RetireForm
from kitshare.web.kits.views.answers import FormPage, changes, done, form_page, posted, signed
from kitshare.web.kits.views.kits import may_change
from kitshare.web.kits.weight_facts import weights_of
from kitshare.web.lifting import guide_in_words
from kitshare.web.logbook.facts import history_of
from kitshare.web.upkeep.care_facts import care_of
from kitshare.web.upkeep.probes import probes_of


def _machine(pk: int) -> Machine:
    return get_object_or_404(Machine.objects.select_related("kit__depot"), pk=pk)


def machine_show(request: PageRequest, pk: int) -> HttpResponse:
    """One machine: what travels with it and where, what is wrong with it, and its history."""
    machine = _machine(pk)
    parts = list(machine.parts.order_by("position", "pk"))
    in_use = [part for part in parts if not part.retired_on]
    faults = list(Fault.objects.concerning([machine]).select_related("part").worst_first())
    facts = {
        "machine": machine,
        "row": machine_rows([machine], timezone.localdate())[0],
        "groups": part_groups(in_use, faults),
        "retired": [part for part in parts if part.retired_on],
        "gaps": gaps(machine, in_use) if in_use else [],
        "faults": faults,
        "code": code_of(machine),
        "figures": figures_of(machine),
        "weights": weights_of(machine, in_use),
        "lifting_guide": guide_in_words(),
        "probes": probes_of(machine, timezone.localdate()) if machine.kind == MachineKind.PASTEURISER else None,
        "care": care_of(machine, timezone.localdate()),
        "history": history_of(machine, request.user, request.GET.get("before")),
        "may_change": may_change(request),
    }
    return render(request, "kits/machine.html", facts)


@for_maintainers
def machine_new(request: PageRequest, pk: int) -> HttpResponse:
    kit = get_object_or_404(Kit, pk=pk)
    form = MachineForm(posted(request))
    added: list[Machine] = []
    if done(form, lambda: added.append(arriving.add_machine(kit=kit, **signed(request), **form.cleaned_data))):
        messages.success(request, _("Added %(name)s. Now add the parts that travel with it.") % {"name": added[0]})
        return redirect("kits:machine", added[0].pk)
    title = _("Add a machine to %(kit)s") % {"kit": kit}
    return form_page(request, form, FormPage(title, _("Add the machine"), reverse("kits:show", args=[pk])))


@for_maintainers
def machine_change(request: PageRequest, pk: int) -> HttpResponse:
    machine = _machine(pk)
    form = MachineForm(posted(request), instance=_machine(pk))
    if done(form, lambda: kits.change_machine(machine=machine, **changes(request, form))):
        messages.success(request, _("Saved."))
        return redirect("kits:machine", pk)
    title = _("Change %(name)s") % {"name": machine}
    return form_page(request, form, FormPage(title, _("Save the machine"), reverse("kits:machine", args=[pk])))


@for_maintainers
def machine_figures(request: PageRequest, pk: int) -> HttpResponse:
    """What the machine does in an hour and what it draws, for plans of a day."""
    machine = _machine(pk)
    form = FiguresForm(posted(request), instance=_machine(pk))
    if done(form, lambda: kits.change_machine(machine=machine, **changes(request, form))):
        messages.success(request, _("Saved. Plans of press days go by these figures from now on."))
        return redirect("kits:machine", pk)
    page = FormPage(
        title=_("Figures of %(name)s") % {"name": machine},
        button=_("Save the figures"),
        back=reverse("kits:machine", args=[pk]),
        lead=_("Plans of press days go by these. Where one is empty, a plan takes the usual figure and says so."),
    )
    return form_page(request, form, page)


@for_maintainers
def machine_retire(request: PageRequest, pk: int) -> HttpResponse:
    """Look it over, then retire; refused while somebody counts on the machine."""
    machine = _machine(pk)
    form = RetireForm(posted(request))
    if done(
        form,
        lambda: retiring.retire_machine(
            machine=machine,
            reason=form.cleaned_data["reason"],
            by=request.user,
            at=timezone.now(),
            today=timezone.localdate(),
        ),
    ):
        messages.success(request, _("%(name)s is retired. It can be brought back from its page.") % {"name": machine})
        return redirect("kits:machine", pk)
    page = FormPage(
        title=_("Retire %(name)s") % {"name": machine},
        button=_("Retire the machine"),
        back=reverse("kits:machine", args=[pk]),
        lead=_("Nobody can book it any more. Its parts and all that is known of it stay, and it can be brought back."),
    )
    facts = {"form": form, "page": page, "promises": retiring.promises_of([machine])}
    return render(request, "kits/retire.html", facts, status=422 if form.errors else 200)


@for_maintainers
@require_POST
def machine_bring_back(request: PageRequest, pk: int) -> HttpResponse:
    machine = _machine(pk)
    arriving.bring_back_machine(machine=machine, **signed(request))
    messages.success(request, _("%(name)s is in use again.") % {"name": machine})
    return redirect("kits:machine", pk)


@for_maintainers
def kit_order(request: PageRequest, pk: int) -> HttpResponse:
    """The order in which the machines of a kit are packed, and so checked."""
    kit = get_object_or_404(Kit, pk=pk)
    if request.method == "POST":
        machine = get_object_or_404(kit.machines, pk=_posted_key(request))
        earlier = request.POST.get("to") == "earlier"
        kits.move_machine(machine=machine, earlier=earlier, by=request.user, at=timezone.now())
        return redirect("kits:kit_order", pk)
    facts = {"title": kit, "things": kit.machines.filter(retired_on=None).order_by("position", "pk")}
    return render(request, "kits/order.html", facts | {"back": reverse("kits:show", args=[pk])})


@for_maintainers
def machine_order(request: PageRequest, pk: int) -> HttpResponse:
    """The order in which the parts of a machine are packed, and so checked."""
    machine = _machine(pk)
    if request.method == "POST":
        part = get_object_or_404(machine.parts.select_related("machine__kit"), pk=_posted_key(request))
        earlier = request.POST.get("to") == "earlier"
        kits.move_part(part=part, earlier=earlier, by=request.user, at=timezone.now())
        return redirect("kits:machine_order", pk)
    facts = {"title": machine, "things": machine.parts.filter(retired_on=None).order_by("position", "pk")}
    return render(request, "kits/order.html", facts | {"back": reverse("kits:machine", args=[pk])})


def _posted_key(request: PageRequest) -> int:
    """The key of the row whose button was pressed; one that nothing has, where it makes no sense."""
    typed = request.POST.get("thing", "")
    return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 19 else 0
