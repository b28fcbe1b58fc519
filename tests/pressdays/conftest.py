"""What tests of press days ask for: a booking of 400 kg, and kinds of container."""

from dataclasses import fields
from datetime import date
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays import kinds as containers
from kitshare.pressdays import recording
from kitshare.pressdays.record_models import Given
from kitshare.pressdays.wanted import Part, Wanted
from kitshare.rules.containers import Use
from kitshare.rules.periods import Period


@pytest.fixture
def booking(sorrelhythe, sunniva, season, mill, now, today):
    """Sorrelhythe asks for the Heron mill with 400 kg of fruit."""
    return bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill],
        period=Period(start=date(2027, 9, 11), end=date(2027, 9, 13)),
        fruit_amount=Decimal("25"),
        fruit_unit="crate",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )


@pytest.fixture
def add_kind(perpetua, now):
    def add_kind(name, litres, **facts):
        chosen = {"fill_fraction": Decimal(1)} | facts
        return containers.add_container_kind(name=name, litres=Decimal(litres), **chosen, by=perpetua, at=now)

    return add_kind


@pytest.fixture
def bottle(add_kind):
    facts = {"fill_fraction": Decimal("0.96"), "material": "glass", "reused_glass": True}
    return add_kind("0.75 L glass bottle", "0.75", **facts, usual_parts=60, position=1)


@pytest.fixture
def box(add_kind):
    return add_kind("5 L bag-in-box", "5", material="film", usual_use="fresh", usual_parts=20, position=2)


@pytest.fixture
def save(booking, sunniva, now):
    """Save a plan of that booking as Sunniva, unless told otherwise."""

    def save(shares, its_yield="0.55", *, at_hand=None, **changes):
        parts = tuple(
            Part(use=use, kind=kind, percent=percent)
            for (use, kind), percent in ((_use_and_kind(key), percent) for key, percent in shares.items())
        )
        facts = {"booking": booking, "by": sunniva, "at": now}
        own_yield = None if its_yield is None else Decimal(its_yield)
        names = {name: changes.pop(name) for name in ("fruit_word", "sorted_out_percent") if name in changes}
        wanted = Wanted(parts=parts, at_hand=at_hand or {}, yield_expected=own_yield, **names)
        return pressdays.save_plan(wanted=wanted, **(facts | changes))

    return save


def _use_and_kind(key):
    """A kind by itself is for what it usually holds."""
    return key if isinstance(key, tuple) else (Use(key.usual_use), key)


@pytest.fixture
def call_off(booking, perpetua, now):
    def call_off():
        return bookings.call_off(
            booking=booking, reason="Hail took the fruit.", by=perpetua, at=now, revision=booking.revision
        )

    return call_off


@pytest.fixture
def out_booking(agreed_booking, perpetua, now):
    """Sorrelhythe's mill and press of 1 to 4 September, out since this morning."""
    return bookings.mark_out(booking=agreed_booking, by=perpetua, at=now)


@pytest.fixture
def record_day(out_booking, mill, press, sunniva, now, today):
    """Record today of that booking as Sunniva: 300 kg gave 165 litres by Heron's mill and press, unless told otherwise."""

    def record(**changes):
        figures = {"pressed_kg": Decimal(300), "litres_fresh": Decimal(65), "litres_heated": Decimal(100)}
        names = {field.name for field in fields(Given)}
        figures |= {name: changes.pop(name) for name in list(changes) if name in names}
        facts = {"booking": out_booking, "day": today, "machines": [mill, press], "by": sunniva, "at": now}
        return recording.record_day(given=Given(**figures), **(facts | {"today": today} | changes))

    return record
