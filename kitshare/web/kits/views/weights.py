"""Weights: of a machine, its boxes and its parts, typed together after an evening with the scales."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from kitshare.kits import weighing
from kitshare.kits.code_models import Code
from kitshare.kits.models import Machine, Part
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.kits.views.answers import done, posted
from kitshare.web.kits.weight_form import WeightsForm
from kitshare.web.lifting import guide_in_words


@require_http_methods(["GET", "HEAD", "POST"])
@for_maintainers
def machine_weights(request: PageRequest, pk: int) -> HttpResponse:
    """Write down what a machine, its empty boxes and its parts weigh."""
    machine = get_object_or_404(Machine.objects.select_related("kit"), pk=pk)
    parts, boxes = Part.objects.travelling().filter(machine=machine), Code.objects.boxes_of([machine])
    form = WeightsForm(posted(request), instance=machine, parts=parts, boxes=boxes)
    signed: dict[str, Any] = {"by": request.user, "at": timezone.now()}
    if done(form, lambda: weighing.weigh(machine=machine, weights=form.weights(), seen=form.seen, **signed)):
        messages.success(request, _("Saved. Cards, checks and lists on paper say these weights from now on."))
        return redirect("kits:machine", pk)
    facts = {"form": form, "machine": machine, "guide": guide_in_words()}
    return render(request, "kits/weights.html", facts, status=422 if form.errors else 200)
