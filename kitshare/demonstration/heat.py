"""What was heated in the demonstration: probes checked, one of them 3 degrees low, and batches with their records."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from kitshare.bookings.models import Booking
from kitshare.demonstration.kits import Fleet
from kitshare.demonstration.telling import Teller, at_nine
from kitshare.kits.models import Kit, Machine, MachineKind, Part
from kitshare.people.juice_terms import change_juice_terms
from kitshare.people.models import Member, Scheme
from kitshare.pressdays.heat_judging import work_out
from kitshare.pressdays.heat_models import Came
from kitshare.pressdays.heat_records import Batch, record_heat
from kitshare.pressdays.planning import recommendation_of
from kitshare.rules.readings import read_log
from kitshare.upkeep.probing import check_probe

DAY: Final = timedelta(days=1)
ALTITUDE_M: Final = 40
BOTTLE: Final = "0.75 L glass bottle, re-used"


def tell_of_heat(teller: Teller, fleet: Fleet, today: date) -> None:
    """Checks of two probes, and batches of the earlier season and of this one."""
    scheme = change_juice_terms(
        scheme=Scheme.objects.get(),
        altitude_m=ALTITUDE_M,
        best_before_months=18,
        by=teller.coordinator,
        at=at_nine(today - 420 * DAY),
    )
    teodor = Member.objects.get(name="Teodor Haskerby")
    heron = Booking.objects.filter(machines__kit=fleet.heron, village__name="Sorrelhythe").distinct().order_by("out_on")
    first, last = heron.filter(stage="closed")[0], heron.filter(stage="closed").order_by("-out_on")[0]
    for day in sorted({first.out_on - 6 * DAY, last.out_on - 6 * DAY}):
        _check(fleet.heron, Decimal("0.1"), Decimal("99.9"), day, by=teodor)
    _check(fleet.kettle, Decimal("-3.0"), Decimal("96.8"), today - 5 * DAY, by=teodor)
    _batch(scheme, first, 1, _held, ph=Decimal("3.4"), note="")
    _batch(scheme, first, 2, _fuse_blew, ph=Decimal("3.4"), note="The fuse blew; we drank these the same week.")
    _batch(scheme, last, 1, _held, ph=None, note="")


def _check(kit: Kit, ice: Decimal, boiling: Decimal, day: date, *, by: Member) -> None:
    check_probe(
        part=_probe(kit)[1],
        ice_reading_c=ice,
        boiling_reading_c=boiling,
        altitude_m=ALTITUDE_M,
        pressure_hpa=None,
        checked_on=day,
        note="",
        by=by,
        at=at_nine(day),
        today=day,
    )


def _probe(kit: Kit) -> tuple[Machine, Part]:
    machine = kit.machines.get(kind=MachineKind.PASTEURISER)
    return machine, machine.parts.get(name="Probe thermometer")


def _batch(
    scheme: Scheme,
    booking: Booking,
    number: int,
    celsius: Callable[[int], float],
    *,
    ph: Decimal | None,
    note: str,
) -> None:
    """A batch of 36 bottles, read every two minutes for an hour and three quarters from two in the afternoon."""
    machine, probe = _probe(booking.machines.filter(kind=MachineKind.PASTEURISER)[0].kit)
    start = 14 * 60 + 120 * (number - 1)
    rows = [f"{(start + m) // 60:02}:{(start + m) % 60:02};{celsius(m):.1f}" for m in range(0, 108, 2)]
    day = booking.out_on
    batch = Batch(
        number=number,
        pasteuriser=machine,
        probe=probe,
        ph=ph,
        bottles=36,
        container=BOTTLE,
        litres=Decimal("27.0"),
        filled_on=day,
        note=note,
    )
    judged = work_out(
        read_log("\n".join(["time;juice C", *rows])),
        recommendation=recommendation_of(scheme),
        probe=probe,
        filled_on=day,
        ph=None if ph is None else float(ph),
    )
    record_heat(
        booking=booking,
        batch=batch,
        judged=judged,
        came=Came.TYPED,
        by=booking.borrower,
        at=at_nine(booking.back_on),
        today=booking.back_on,
    )


def _held(minute: int) -> float:
    """Up to 77 degrees in 68 minutes, as 6 kW do it with so much water and juice; held for half an hour, lifted out."""
    if minute <= 68:
        return float(14 + 63 * (1 - (1 - minute / 68) ** 1.1))
    return 77.0 + 0.3 * (minute % 4 - 1) if minute <= 98 else 77.0 - 1.4 * (minute - 98)


def _fuse_blew(minute: int) -> float:
    """Up as the other, but after a quarter of an hour at the top it only cools."""
    return _held(minute) if minute <= 82 else 76.5 - 0.6 * (minute - 82)
