"""What people type about the socket, the leads and the machines of a day."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine
from kitshare.rules.electrics import RuleSet
from kitshare.rules.leads import LONGEST_M, OHM_PER_KM, Lead
from kitshare.rules.supply import DRUM_AMPS_UNWOUND, DRUM_AMPS_WOUND, Drum, LeadInLine, Line, Load, Socket
from kitshare.web.forms import AmountField

LEADS: Final = (1, 2)
CROSS_SECTIONS: Final = [(str(mm2), f"{mm2.normalize():f} mm²") for mm2 in OHM_PER_KM]
DRUMS: Final = [("", _("not on a drum")), ("unwound", _("on a drum, wholly unwound")), ("wound", _("on a drum, wound"))]
TRIP: Final = [("30", _("30 mA or finer")), ("100", _("coarser than 30 mA")), ("", _("none, or nobody knows"))]
# What a socket of a house commonly carries, until somebody reads it off: common practice.
USUAL_AMPS: Final = {RuleSet.UNITED_KINGDOM.value: 13}


def _amps(label: Any, **kwargs: Any) -> AmountField:
    return AmountField(label=label, min_value=1, max_value=125, decimal_places=1, max_digits=4, **kwargs)


class SupplyForm(forms.Form):
    """One socket, up to two leads joined end to end, and the machines that run at once from it."""

    socket_amps = _amps(_("Amperes of the socket"), help_text=_("Stamped on it: 13 or 16 in most houses."))
    protection_amps = _amps(
        _("Amperes of its fuse or breaker"), help_text=_("In the board, or in the plug: the smaller of the two.")
    )
    volts = AmountField(label=_("Volts"), min_value=100, max_value=250, decimal_places=0, initial=230)
    trip = forms.ChoiceField(
        label=_("Trip switch before it"), choices=TRIP, required=False, initial="", widget=forms.RadioSelect
    )
    hoses = forms.BooleanField(label=_("Hoses or wet ground are near"), required=False, initial=True)

    def __init__(self, *args: Any, machines: Sequence[Machine], rules: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machines = machines
        self.rules = RuleSet(rules) if rules else None
        usual = USUAL_AMPS.get(rules, 16)
        self.initial.update(socket_amps=usual, protection_amps=usual)
        for number in LEADS:
            self._add_lead(number)
        for machine in machines:
            self._add_machine(machine)

    def _add_lead(self, number: int) -> None:
        words = {"number": number}
        self.fields[f"lead{number}-metres"] = AmountField(
            label=_now("Metres"), required=False, min_value=0, max_value=LONGEST_M, decimal_places=1, max_digits=4
        )
        self.fields[f"lead{number}-mm2"] = forms.ChoiceField(
            label=_now("Cross-section"), choices=CROSS_SECTIONS, initial="1.5", required=False
        )
        self.fields[f"lead{number}-drum"] = forms.ChoiceField(label=_now("Drum"), choices=DRUMS, required=False)
        for name, usual in (("unwound", DRUM_AMPS_UNWOUND), ("wound", DRUM_AMPS_WOUND)):
            label = _now("Amperes by the drum's label, unwound") if name == "unwound" else _now("The same, wound")
            self.fields[f"lead{number}-{name}_amps"] = AmountField(
                label=label, required=False, min_value=1, max_value=125, decimal_places=1, max_digits=4, initial=usual
            )
        self.fields[f"lead{number}-ip"] = forms.ChoiceField(
            label=_now("Second figure of the IP code of lead %(number)s") % words,
            choices=[("", _("not known")), *((str(figure), str(figure)) for figure in range(10))],
            required=False,
        )

    def _add_machine(self, machine: Machine) -> None:
        self.fields[f"m{machine.pk}-runs"] = forms.BooleanField(
            label=_now("%(machine)s runs from it") % {"machine": machine.name}, required=False, initial=True
        )
        self.fields[f"m{machine.pk}-watts"] = AmountField(
            label=_now("Its watts"), required=False, min_value=0, max_value=60_000, decimal_places=0,
            initial=machine.power_watts,
        )  # fmt: skip
        self.fields[f"m{machine.pk}-amps"] = AmountField(
            label=_now("Or its amperes"), required=False, min_value=0, max_value=125, decimal_places=1, max_digits=4,
            help_text=_("By the plate; for a motor they say more than the watts."),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Nothing that was typed is left out unsaid: a lead needs its metres, and something must run."""
        typed = self.cleaned_data
        for number in LEADS:
            metres, words = f"lead{number}-metres", {"number": number}
            described = typed.get(f"lead{number}-drum") or typed.get(f"lead{number}-ip")
            if described and not typed.get(metres) and metres not in self.errors:
                self.add_error(
                    metres, _now("Give the metres of lead %(number)d too: without them it would be left out.") % words
                )
        if self.machines and not any(typed.get(f"m{machine.pk}-runs") for machine in self.machines):
            self.add_error(f"m{self.machines[0].pk}-runs", _now("Tick at least one machine: nothing would run."))
        return typed

    def lead_fields(self) -> list[tuple[int, list[forms.BoundField]]]:
        names = ("metres", "mm2", "drum", "unwound_amps", "wound_amps", "ip")
        return [(number, [self[f"lead{number}-{name}"] for name in names]) for number in LEADS]

    def machine_fields(self) -> list[tuple[Machine, list[forms.BoundField]]]:
        return [
            (machine, [self[f"m{machine.pk}-{name}"] for name in ("runs", "watts", "amps")])
            for machine in self.machines
        ]

    def line(self) -> Line:
        """What was typed, as the rules ask for it."""
        typed = self.cleaned_data
        loads = [
            Load(name=machine.name, amps=typed[f"m{machine.pk}-amps"], watts=typed[f"m{machine.pk}-watts"])
            for machine in self.machines
            if typed[f"m{machine.pk}-runs"]
        ]
        return Line(
            socket=Socket(
                amps=typed["socket_amps"],
                protection_amps=typed["protection_amps"],
                volts=typed["volts"],
                trip_ma=int(typed["trip"]) if typed["trip"] else None,
            ),
            loads=tuple(loads),
            leads=tuple(self._lead(number) for number in LEADS if typed[f"lead{number}-metres"]),
            hoses=typed["hoses"],
            rules=self.rules,
        )

    def _lead(self, number: int) -> LeadInLine:
        def typed(name: str) -> Any:
            return self.cleaned_data[f"lead{number}-{name}"]

        drum = None
        if typed("drum"):
            drum = Drum(
                is_wound=typed("drum") == "wound",
                amps_unwound=typed("unwound_amps") or DRUM_AMPS_UNWOUND,
                amps_wound=typed("wound_amps") or DRUM_AMPS_WOUND,
            )
        return LeadInLine(
            name=_now("Lead %(number)s") % {"number": number},
            lead=Lead(length_m=typed("metres"), mm2=Decimal(typed("mm2") or "1.5")),
            drum=drum,
            ip_second=int(typed("ip")) if typed("ip") else None,
        )
