"""After how much use a service is due: what is refused, and how it is said."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.rules.due_by_use import MOST_EVERY, Measure
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.care_refusals import UseNotSensible
from kitshare.upkeep.use import MILLING
from kitshare.upkeep.words import day_with_year, interval_in_words

FIELDS: Final = {Measure.KG: "every_kg", Measure.HOURS: "every_hours", Measure.OUTINGS: "every_outings"}


def check_limits(plan: CarePlan) -> None:
    """Services alone go by use, by at least 1 of it, and by kilograms only where the machine mills or presses."""
    for measure, every in plan.limits.items():
        field, most = FIELDS[measure], MOST_EVERY[measure]
        if plan.is_test:
            sentence = _("Safety tests go by date alone. Leave this empty, or make it a service.")
            raise UseNotSensible(field=field, sentence=sentence)
        if not (every.is_finite() and 1 <= every <= most) or every != round(every, 1):
            words = {"most": amount_in_words(measure, Decimal(most))}
            raise UseNotSensible(
                field=field, sentence=_("Give a number from 1 to %(most)s, or leave it empty.") % words
            )
        if measure == Measure.KG and plan.machine.kind not in MILLING:
            sentence = _("Kilograms are counted for mills and presses. Choose hours or outings.")
            raise UseNotSensible(field=field, sentence=sentence)


def amount_in_words(measure: Measure, amount: Decimal) -> str:
    """Such as "1,340 kg", "12.5 hours" or "3 outings"; kilograms without decimals."""
    shown = amount.quantize(Decimal(1)) if measure == Measure.KG else amount.normalize()
    number = number_format(f"{shown:f}", use_l10n=True, force_grouping=True)
    if measure == Measure.KG:
        return _("%(amount)s kg") % {"amount": number}
    if measure == Measure.HOURS:
        return ngettext("%(amount)s hour", "%(amount)s hours", 1 if amount == 1 else 2) % {"amount": number}
    return ngettext("%(amount)s outing", "%(amount)s outings", int(amount)) % {"amount": number}


def often_in_words(plan: CarePlan) -> str:
    """How often it is due, such as "every 3 months, or every 2,000 kg, whichever comes first"."""
    by_date = interval_in_words(plan.interval)
    by_use = [
        _("every %(amount)s") % {"amount": amount_in_words(measure, every)} for measure, every in plan.limits.items()
    ]
    if not by_use:
        return by_date
    said = _(" or ").join([by_date, *by_use])
    return _("%(said)s, whichever comes first") % {"said": said}


def facts_in_words(plan: CarePlan, names: Mapping[str, object]) -> str:
    """Some facts of a plan as people read them."""
    limits = {
        FIELDS[measure]: _("every %(amount)s") % {"amount": amount_in_words(measure, every)}
        for measure, every in plan.limits.items()
    }
    words = {
        "kind": plan.get_kind_display(),
        "every": interval_in_words(plan.interval),
        "unit": interval_in_words(plan.interval),
        "due_on": day_with_year(plan.due_on),
        **limits,
    }
    found = [str(words.get(name) or getattr(plan, name) or _("nothing")) for name in names]
    return ", ".join(dict.fromkeys(found))
