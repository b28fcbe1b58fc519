"""What the scheme's own press days teach: the yield to believe in for a booking, and the days that it rests on."""

from collections.abc import Sequence
from typing import Any, Final

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine, MachineKind
from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.rules.yields import LEAST_YIELD, MOST_YIELD, PUBLISHED, Belief, Evidence, PressedDay, evidence

MOST_DAYS: Final = 500  # the newest; a scheme of thirty days a season remembers sixteen seasons

LITRES: Final = tuple(f"litres_{use}" for use in USES)
USED: Final = ("pressed_kg", *LITRES, "fruit", "booking__village", "press", "wanted")


def belief_for(booking: Booking, *, fruit: str = "", machines: Sequence[Machine] = ()) -> tuple[Belief, Evidence]:
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
    days, wanted = [], ""
    for row in recorded.values(*USED)[:MOST_DAYS]:
        wanted = _key(row["wanted"])
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
    return PUBLISHED.learned([one.litres_per_kg for one in found.days]), found


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
