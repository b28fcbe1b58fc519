"""The pages of a season's start and end: what is left of every kit, a kit's tasks to tick off, and a machine's list."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitshare.kits.models import Kit, Machine
from kitshare.logbook import actions as logbook
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.upkeep import season_tasks
from kitshare.upkeep.care_refusals import CareRefused
from kitshare.upkeep.season_lists import list_to_begin_with
from kitshare.upkeep.season_models import Occasion, SeasonTask
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.forms import Things, say_what_changed
from kitshare.web.upkeep.season_facts import Chosen, chosen, kits_left, tasks_of


class TicksForm(forms.Form):
    """Which tasks were done. A task that is not there any more is none of them."""

    tasks = Things(
        queryset=SeasonTask.objects.none(),
        error_messages={
            "required": gettext_lazy("Choose what was done."),
            "invalid_choice": gettext_lazy("A task that you chose is not on the list any more. Choose anew."),
        },
    )

    def __init__(self, *args: Any, kit: Kit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tasks"].queryset = SeasonTask.objects.in_force().filter(machine__kit=kit)  # type: ignore[attr-defined]


class ListForm(forms.Form):
    """A machine's tasks, one on each line."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=2**63 - 1)
    lines = forms.CharField(
        label=gettext_lazy("Tasks"),
        required=False,
        max_length=season_tasks.MOST_TASKS * (season_tasks.LONGEST_TASK + 2),
        widget=forms.Textarea(attrs={"rows": 10}),
        help_text=gettext_lazy("One on each line, in the order of doing. A task whose words stay keeps its ticks."),
    )


@require_safe
@for_maintainers
def season_work(request: PageRequest) -> HttpResponse:
    """What is left of every kit at a season's start or end."""
    what = chosen(request.GET.dict(), timezone.localdate())
    shown = {"what": what, "occasions": Occasion.choices, "kits": kits_left(what) if what else []}
    return render(request, "upkeep/season_work.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def season_kit(request: PageRequest, pk: int) -> HttpResponse:
    """A kit's tasks, to be ticked off here or on paper."""
    kit = get_object_or_404(Kit.objects.in_use(), pk=pk)
    what = chosen(request.GET.dict(), timezone.localdate())
    if what is None:
        return redirect("upkeep:season_work")
    form = TicksForm(request.POST if request.method == "POST" else None, kit=kit)
    if request.method == "POST" and form.is_valid():
        tasks = list(form.cleaned_data["tasks"])
        done = season_tasks.tick(tasks=tasks, **_of(what), **_signed(request))
        said = ngettext("%(count)d task is ticked off.", "%(count)d tasks are ticked off.", done)
        messages.success(request, said % {"count": done} if done else _("That was ticked off already."))
        return redirect(f"{reverse('upkeep:season_kit', args=[pk])}?{what.query}")
    machines = tasks_of(kit, what)
    shown = {
        "kit": kit,
        "what": what,
        "form": form,
        "typed": set(request.POST.getlist("tasks")),
        "machines": machines,
        "occasions": Occasion.choices,
        "left": sum(one.left for one in machines),
    }
    return render(request, "upkeep/season_kit.html", shown, status=422 if form.errors else 200)


@require_POST
@for_maintainers
def season_task_back(request: PageRequest, pk: int) -> HttpResponse:
    """Take a tick back."""
    task = get_object_or_404(SeasonTask.objects.select_related("machine"), pk=pk)
    what = chosen(request.GET.dict(), timezone.localdate())
    if what is None:
        raise Http404
    season_tasks.take_tick_back(task=task, **_of(what), **_signed(request))
    messages.success(request, _("It is open again."))
    return redirect(f"{reverse('upkeep:season_kit', args=[task.machine.kit_id])}?{what.query}")


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def season_list(request: PageRequest, pk: int, occasion: str) -> HttpResponse:
    """A machine's list of tasks; while it is empty, a list to begin with is offered."""
    if occasion not in Occasion.values:
        raise Http404
    which = Occasion(occasion)
    machine = get_object_or_404(Machine.objects.select_related("kit").filter(retired_on=None), pk=pk)
    there = SeasonTask.objects.in_force().filter(machine=machine, occasion=which).in_order()
    texts = list(there.values_list("text", flat=True))
    offered = [] if texts else list_to_begin_with(machine, which)
    first = offered if request.GET.get("begin") else texts
    initial = {"lines": "\n".join(first), "seen": logbook.newest_line(machine)}
    form = ListForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            lines = form.cleaned_data["lines"].splitlines()
            seen = form.cleaned_data["seen"]
            season_tasks.list_tasks(machine=machine, occasion=which, lines=lines, seen=seen, **_signed(request))
        except CareRefused as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        except ChangedMeanwhile as change:
            say_what_changed(form, change)
        else:
            messages.success(request, _("The list is saved."))
            return redirect(f"{reverse('upkeep:season_kit', args=[machine.kit_id])}?occasion={which.value}")
    shown = {"form": form, "machine": machine, "which": which, "offered": offered}
    return render(request, "upkeep/season_list.html", shown, status=422 if form.errors else 200)


def _of(what: Chosen) -> dict[str, Any]:
    return {"season_key": what.season.pk, "season_name": what.title}


def _signed(request: PageRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}
