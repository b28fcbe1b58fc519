"""What the scheme's own press days teach: the yield to believe in for a booking, and the days that it rests on."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine, MachineKind
from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.rules.breakage import Breakage
from kitshare.rules.yields import LEAST_YIELD, MOST_YIELD, PUBLISHED, Belief, Evidence, PressedDay, evidence

MOST_DAYS: Final = 500  # the newest; a scheme of thirty days a season remembers sixteen seasons

LITRES: Final = tuple(f"litres_{use}" for use in USES)
BOTTLES: Final = ("reused_brought", "reused_broken")
USED: Final = ("pressed_kg", *BOTTLES, *LITRES, "fruit", "booking__village", "press", "wanted")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lessons:
    """What the recorded days teach: the yield, the days that it rests on, and how many bottles were brought and broken.

    Bottles break alike with any press and any fruit: all days on which they were counted teach it.
    """

    belief: Belief
    evidence: Evidence
    bottles: tuple[tuple[int, int], ...] = ()

    def breakage(self, usual_percent: Decimal) -> Breakage:
        """How many re-used bottles to bring over, by the scheme's usual figure and the days that counted them."""
        found = Breakage(usual=usual_percent / 100)
        for brought, broken in self.bottles:
            found = found.seen(brought=brought, broken=broken)
        return found


def belief_for(booking: Booking, *, fruit: str = "", machines: Sequence[Machine] = ()) -> tuple[Belief, Evidence]:
    """The yield to believe in for a booking, and the days that it rests on. See `lessons_for`."""
    found = lessons_for(booking, fruit=fruit, machines=machines)
    return found.belief, found.evidence


def lessons_for(booking: Booking, *, fruit: str = "", machines: Sequence[Machine] = ()) -> Lessons:
    """The yield to believe in for a booking: the published range, taught by the recorded days most like it.

    Those before the booking goes out count, and never its own: what was expected stays what it was. They are alike by
    press, kind of fruit and village where there are enough of them. `machines` are those of a booking that is not made
    yet. One query.
    """
    used = PressDayRecord.machines.through.objects
    ours = Booking.machines.through.objects.filter(booking=booking.pk)
    recorded = (
        PressDayRecord.objects.filter(pressed_kg__gt=0, day__lt=booking.out_on)
        .exclude(booking=booking.pk)
        .annotate(
            press=Subquery(_first_press(used.filter(pressdayrecord=OuterRef("pk")))),
            wanted=Subquery(_first_press(ours)),
        )
        .order_by("-day", "-pk")
    )
    days, wanted, bottles = [], "", []
    for row in recorded.values(*USED)[:MOST_DAYS]:
        wanted = _key(row["wanted"])
        if row["reused_brought"] is not None:
            bottles.append((row["reused_brought"], row["reused_broken"]))
        litres_per_kg = float(sum(row[name] for name in LITRES) / row["pressed_kg"])
        if LEAST_YIELD <= litres_per_kg <= MOST_YIELD:
            day = PressedDay(
                litres_per_kg=litres_per_kg,
                machine=_key(row["press"]),
                fruit=row["fruit"].casefold(),
                village=_key(row["booking__village"]),
            )
            days.append(day)
    presses = [machine for machine in machines if machine.kind == MachineKind.PRESS]
    if presses:
        wanted = _key(min(presses, key=lambda press: (press.position, press.pk)).pk)
    found = evidence(days, machine=wanted, fruit=fruit.strip().casefold(), village=_key(booking.village_id))
    belief = PUBLISHED.learned([one.litres_per_kg for one in found.days])
    return Lessons(belief=belief, evidence=found, bottles=tuple(bottles))


def breakage_rests_on(found: Breakage) -> str:
    """How many bottles over, and what that rests on, in a few words."""
    words = {
        "over": f"{(100 * found.over).quantize(Decimal('0.1')).normalize():f}",
        "days": found.days,
        "broken": found.broken,
        "brought": found.brought,
    }
    if not found.days:
        return _("%(over)s for each hundred filled: the usual allowance, since nothing is recorded yet") % words
    sentence = ngettext(
        "%(over)s for each hundred filled, from the usual allowance and the scheme’s own day"
        " (%(broken)s of %(brought)s)",
        "%(over)s for each hundred filled, from the usual allowance and the scheme’s own %(days)s days"
        " (%(broken)s of %(brought)s)",
        found.days,
    )
    return sentence % words


def rests_on(found: Evidence) -> str:
    """What a forecast rests on, in a sentence."""
    count = len(found.days)
    if not count:
        return _("It rests on the published range: no press day of this scheme is recorded yet.")
    sentence = ngettext(
        "It rests on the published range and on %(count)d recorded press day %(alike)s.",
        "It rests on the published range and on %(count)d recorded press days %(alike)s.",
        count,
    )
    alike = {
        ("machine", "fruit", "village"): _("of this village, with this press and this kind of fruit"),
        ("machine", "fruit"): _("with this press and this kind of fruit"),
        ("machine", "village"): _("of this village, with this press"),
        ("machine",): _("with this press"),
    }
    return sentence % {"count": count, "alike": alike.get(found.alike_by, _("of this scheme"))}


def _first_press(uses: QuerySet[Any]) -> QuerySet[Any, Any]:
    """The press among some uses, the first in packing order."""
    presses = uses.filter(machine__kind=MachineKind.PRESS)
    return presses.order_by("machine__position", "machine").values("machine")[:1]


def _key(key: int | None) -> str:
    return "" if key is None else str(key)
