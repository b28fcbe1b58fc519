"""What tests of heat ask for: a booking with a pasteuriser, its probe, logs of a batch, and records of it."""

from datetime import date
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.kits.models import Part
from kitshare.pressdays import heat_judging, heat_records
from kitshare.pressdays.heat_models import Came
from kitshare.pressdays.heat_records import Batch
from kitshare.pressdays.planning import recommendation_of
from kitshare.rules.periods import Period
from kitshare.rules.readings import read_log
from kitshare.upkeep import probing


def heat_log(*, hold: int = 25, top: float = 77.0, every: int = 1, unit: str = "C", start: int = 13 * 60) -> str:
    """Clock times and temperatures: 20 minutes of warming from 20 degrees, the hold, and ten minutes of cooling."""
    rise, fall = 20, 10
    lines = [f"Time;Juice ({unit})"]
    for minute in range(0, rise + hold + fall + 1, every):
        celsius = min(top, 20 + (top - 20) * minute / rise)
        if minute > rise + hold:
            celsius = top - 3 * (minute - rise - hold)
        value = celsius * 1.8 + 32 if unit == "F" else celsius
        at = start + minute
        lines.append(f"{at // 60 % 24:02}:{at % 60:02};{value:.1f}")
    return "\n".join(lines)


@pytest.fixture
def probe(pasteuriser):
    return Part.objects.create(machine=pasteuriser, name="Probe thermometer", number="H9")


@pytest.fixture
def heated(sorrelhythe, sunniva, perpetua, season, mill, pasteuriser, probe, now, today):
    """Sorrelhythe's booking of the Heron mill and pasteuriser, agreed, from today on."""
    booking = bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill, pasteuriser],
        period=Period(start=today, end=date(2027, 9, 4)),
        fruit_amount=Decimal("400"),
        fruit_unit="kg",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )
    return bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)


@pytest.fixture
def check_probe(probe, teodor, now, today):
    """Teodor checks the probe today: it reads 3 degrees low at both points, unless told otherwise."""

    def check_it(**changes):
        facts = {
            "part": probe,
            "ice_reading_c": Decimal("-3.0"),
            "boiling_reading_c": Decimal("97.0"),
            "altitude_m": 0,
            "pressure_hpa": None,
            "checked_on": today,
            "note": "",
        }
        return probing.check_probe(**(facts | {"by": teodor, "at": now, "today": today} | changes))

    return check_it


@pytest.fixture
def record_heat(heated, pasteuriser, probe, sunniva, now, today, scheme):
    """Records a batch of 48 bottles as Sunniva, held for 25 minutes at 77 degrees, unless told otherwise."""

    def record_it(text=None, **changes):
        facts = {
            "number": 1,
            "pasteuriser": pasteuriser,
            "probe": probe,
            "ph": None,
            "bottles": 48,
            "container": "0.75 L glass bottle",
            "litres": Decimal("34.5"),
            "filled_on": today,
        }
        batch = Batch(**(facts | {name: value for name, value in changes.items() if name in facts}))
        judged = heat_judging.work_out(
            read_log(text or heat_log()),
            recommendation=recommendation_of(scheme),
            probe=batch.probe,
            filled_on=min(batch.filled_on, today),
            ph=None if batch.ph is None or not 0 <= batch.ph <= 14 else float(batch.ph),
        )
        more = {name: value for name, value in changes.items() if name not in facts}
        deed = {"booking": heated, "came": Came.PASTED, "by": sunniva, "at": now, "today": today}
        return heat_records.record_heat(batch=batch, judged=judged, **(deed | more))

    return record_it
