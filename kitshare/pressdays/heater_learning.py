"""What the scheme's own heat records tell of a pasteuriser: power and losses, for planning and never a verdict."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Window
from django.db.models.functions import RowNumber
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.kits.models import Machine
from kitshare.pressdays.heat_models import HeatRecord
from kitshare.rules.heat import HeatLog, LogUnusable
from kitshare.rules.heating import Heater, Load, lag_minutes
from kitshare.rules.heating_fit import FitImpossible, HeatedUp, fitted_to, rising
from kitshare.rules.water import OutOfRange

GLASS_KG_PER_LITRE = 0.65
"""Half a kilogram for a bottle of three quarters of a litre: records do not say what a bottle weighs."""

MOST_RECORDS = 20
"""The newest so many: heaters fur up, and lids get lost."""


MOST_STRAY_K = 4.0
"""Records that stray further from their common heater are not of one heater (our choice)."""


LEAST_RISE_K = 12.0
"""Power and losses cannot be told apart over less (our choice)."""

MOST_OF_PLATE = 1.2
"""More than its plate no heater gives: a record that says so began hot, or is not of this bath. A fifth is left for
bottles whose weight nobody wrote down (our choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchLog:
    """One batch as its record tells it: the probe in a bottle, how many bottles, litres in all, and the target."""

    log: HeatLog
    bottles: int
    litres: float
    target_c: float

    def heated_up(self, water_litres: float) -> HeatedUp | None:
        """The part that tells of the heater, with what was heated; None where it tells nothing."""
        try:
            part = rising(self.log, lag=lag_minutes(self.litres / self.bottles), target_c=self.target_c)
            load = Load(water_litres=water_litres, juice_litres=self.litres, glass_kg=GLASS_KG_PER_LITRE * self.litres)
            middle = (part.celsius[0] + part.celsius[-1]) / 2 if part.celsius else 0.0
            found = HeatedUp(log=part, kj_per_k=load.kj_per_k(middle))
        except OutOfRange:
            return None
        return found if found.tells and part.celsius[-1] - part.celsius[0] >= LEAST_RISE_K else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """A heater to plan with, how many records it rests on, and by how many kelvin they stray.

    With 0 records it is the plate's; `left_aside` are records that do not agree, or heat faster than the plate can.
    """

    heater: Heater
    records: int = 0
    strays_k: float = 0.0
    left_aside: int = 0

    @property
    def words(self) -> str:
        """What the heater rests on, in a few words."""
        if self.left_aside:
            return _("by its plate and usual losses; its heat records fit neither each other nor the plate")
        if not self.records:
            return _("by its plate and usual losses; no heat record tells more yet")
        text = ngettext(
            "fitted to %(count)s heat record, which strays by %(strays)s °C",
            "fitted to %(count)s heat records, which stray by %(strays)s °C",
            self.records,
        )
        return text % {"count": self.records, "strays": f"{self.strays_k:.1f}"}


def batches_of(pasteurisers: Sequence[Machine]) -> dict[int, list[BatchLog]]:
    """The newest records of each pasteuriser by its key, as they were corrected. One query, of a thinned curve each."""
    found: dict[int, list[BatchLog]] = {machine.pk: [] for machine in pasteurisers}
    if not pasteurisers:
        return found
    newest_first = ("-filled_on", "-pk")
    rows = (
        HeatRecord.objects.standing()
        .filter(pasteuriser__in=pasteurisers)
        # Of each its own newest: one that is used daily leaves room for one that is seldom used.
        .annotate(place=Window(RowNumber(), partition_by="pasteuriser", order_by=newest_first))
        .filter(place__lte=MOST_RECORDS)
        .order_by(*newest_first)
    )
    columns = ("pasteuriser_id", "curve", "bottles", "litres", "target_c")
    for key, curve, bottles, litres, target_c in rows.values_list(*columns):
        try:
            points = curve["points"]
            log = HeatLog(minutes=tuple(minute for minute, _c in points), celsius=tuple(c for _minute, c in points))
        except LogUnusable:
            continue
        found[key].append(BatchLog(log=log, bottles=bottles, litres=float(litres), target_c=float(target_c)))
    return found


def learn_heater(*, plate: Heater, water_litres: float, batches: Iterable[BatchLog]) -> Learned:
    """The heater of a bath by its newest records; as its plate says where they tell nothing that can be."""
    found = [batch.heated_up(water_litres) for batch in list(batches)[:MOST_RECORDS]]
    telling = [record for record in found if record]
    try:
        fit = fitted_to(telling)
    except (FitImpossible, OutOfRange):
        return Learned(heater=plate)
    if fit.strays_k > MOST_STRAY_K or _gain(fit.heater) > MOST_OF_PLATE * _gain(plate):
        return Learned(heater=plate, left_aside=len(telling))
    return Learned(heater=fit.heater, records=len(telling), strays_k=fit.strays_k)


def _gain(heater: Heater) -> float:
    """Watts that are left for the bath half way up, 30 kelvin over the air: what records tell best."""
    return 1000 * heater.kw - 30 * heater.loss_w_per_k
