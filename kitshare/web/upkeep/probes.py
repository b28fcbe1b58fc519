"""Checking probes in crushed ice and in boiling water, and what each one showed so far."""

import uuid
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from kitshare.kits.models import Machine, Part
from kitshare.people.models import HIGHEST_M, LOWEST_M
from kitshare.rules.probes import OLD_AFTER_DAYS, WITHIN_C
from kitshare.upkeep import probing
from kitshare.upkeep.care_models import CareKind, CarePlan
from kitshare.upkeep.care_refusals import CareRefused
from kitshare.upkeep.probe_models import PRESSURE_HPA, ProbeCheck
from kitshare.upkeep.words import day_with_year
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.forms import AmountField, DayField

CHECKS_SHOWN = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeLine:
    """A check of a probe in words: how it reads, and whether that is said loudly."""

    check: ProbeCheck
    reads: str
    readings: str
    day: str
    is_off: bool
    is_old: bool

    @property
    def tone(self) -> str:
        return "care" if self.is_off or self.is_old else "quiet"


def probe_line(check: ProbeCheck, today: Any) -> ProbeLine:
    """A check in words, as of today."""
    return ProbeLine(
        check=check,
        reads=probing.off_in_words(check),
        readings=probing.readings_in_words(check),
        day=day_with_year(check.checked_on),
        is_off=abs(probing.off_by(check)) > WITHIN_C,
        is_old=(today - check.checked_on).days > OLD_AFTER_DAYS,
    )


def probes_of(machine: Machine, today: Any) -> list[ProbeLine]:
    """The last check of each probe of a machine."""
    parts = machine.parts.filter(retired_on=None)
    return [probe_line(check, today) for check in ProbeCheck.objects.last_of(parts)]


class ProbeForm(forms.Form):
    """What the probe read, and where."""

    form_key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    part = forms.ModelChoiceField(
        label=gettext_lazy("Which part is the probe"),
        queryset=Part.objects.none(),
        empty_label=None,
        error_messages={"required": gettext_lazy("Choose the probe.")},
    )
    ice_reading_c = AmountField(
        label=gettext_lazy("It reads in crushed ice, in °C"),
        required=False,
        max_digits=5,
        decimal_places=1,
        help_text=gettext_lazy("A glass full of crushed ice, topped up with cold water and stirred: 0 °C."),
    )
    boiling_reading_c = AmountField(
        label=gettext_lazy("It reads in boiling water, in °C"),
        required=False,
        max_digits=5,
        decimal_places=1,
        help_text=gettext_lazy("At a rolling boil, off the bottom of the pan. Mind the steam."),
    )
    altitude_m = forms.IntegerField(
        label=gettext_lazy("Metres above the sea there"),
        min_value=LOWEST_M,
        max_value=HIGHEST_M,
        widget=forms.TextInput(attrs={"class": "short", "autocomplete": "off"}),
        help_text=gettext_lazy("Water boils at 99 °C at 300 m: the reading is compared with that, never with 100."),
    )
    pressure_hpa = AmountField(
        label=gettext_lazy("Air pressure there, in hPa"),
        required=False,
        min_value=Decimal(PRESSURE_HPA[0]),
        max_value=Decimal(PRESSURE_HPA[1]),
        max_digits=6,
        decimal_places=1,
        help_text=gettext_lazy("From a barometer in the place itself; it goes before the altitude."),
    )
    checked_on = DayField(label=gettext_lazy("Day of the check"))
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, machine: Machine, checked: list[int], today: Any, altitude_m: int, **kwargs: Any):
        super().__init__(*args, **kwargs)
        likely = probing.likely_probes(Part.objects.travelling().filter(machine=machine), checked)
        parts = Part.objects.travelling().filter(pk__in=[part.pk for part in likely])
        self.fields["part"].queryset = parts  # type: ignore[attr-defined]
        self.fields["part"].label_from_instance = lambda part: f"{part.name} {part.number}".strip()  # type: ignore[attr-defined]
        if not self.is_bound:
            first = checked[0] if checked else None
            self.initial.update(form_key=uuid.uuid4(), part=first, checked_on=today, altitude_m=altitude_m)


@for_maintainers
@require_http_methods(["GET", "HEAD", "POST"])
def probe_check(request: PageRequest, pk: int) -> HttpResponse:
    """Record what a probe of a machine read; its readings are put right by it from then on."""
    machine = get_object_or_404(Machine.objects.select_related("kit"), pk=pk)
    today = timezone.localdate()
    found = ProbeCheck.objects.filter(part__machine=machine).select_related("part", "by")
    checks = list(found.newest_first()[:CHECKS_SHOWN])
    form = ProbeForm(
        request.POST if request.method == "POST" else None,
        machine=machine,
        checked=[check.part_id for check in checks],
        today=today,
        altitude_m=request.our_scheme.altitude_m,
    )
    is_useless = False
    if request.method == "POST" and form.is_valid():
        signed: dict[str, Any] = {"by": request.user, "at": timezone.now(), "today": today}
        try:
            if request.POST.get("deed") == "set_aside":
                fault = probing.set_aside_by_probe(**signed, **form.cleaned_data)
                messages.success(
                    request, _("%(machine)s is set aside until its probe is right.") % {"machine": machine}
                )
                return redirect("upkeep:fault", fault.pk)
            made = probing.check_probe(**signed, **form.cleaned_data)
        except CareRefused as refusal:
            is_useless = isinstance(refusal, probing.ProbeOff)
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            messages.success(request, _word_after(made))
            return redirect("kits:machine", machine.pk)
    shown = {
        "form": form,
        "machine": machine,
        "checks": [probe_line(check, today) for check in checks],
        "plan": CarePlan.objects.in_force().filter(machine=machine, kind=CareKind.PROBE).first(),
        "is_useless": is_useless,
        "has_parts": Part.objects.travelling().filter(machine=machine).exists(),
    }
    return render(request, "upkeep/probe_check.html", shown, status=422 if form.errors else 200)


def _word_after(made: ProbeCheck) -> str:
    words = {"part": made.part.name, "reads": probing.off_in_words(made)}
    if abs(probing.off_by(made)) > WITHIN_C:
        return _("%(part)s %(reads)s. Heat records put that right from now on; report it as a fault too.") % words
    return _("%(part)s %(reads)s. Heat records go by this check from now on.") % words
