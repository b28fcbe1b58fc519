"""A machine that somebody counts on is not taken out of use."""

from datetime import date, timedelta

import pytest

from kitshare.bookings import retiring
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.retiring import StillPromised
from kitshare.logbook.models import Entry

pytestmark = pytest.mark.django_db


@pytest.fixture
def promise(mill, sorrelhythe, sunniva, now):
    def made(stage=Stage.AGREED, out_on=date(2027, 9, 4)) -> Booking:
        booking = Booking.objects.create(
            village=sorrelhythe,
            borrower=sunniva,
            stage=stage,
            out_on=out_on,
            back_on=out_on + timedelta(days=2),
            fruit_amount=100,
            fruit_kg=100,
            asked_at=now,
            changed_at=now,
        )
        booking.machines.add(mill)
        return booking

    return made


@pytest.mark.parametrize("stage", [Stage.ASKED, Stage.AGREED, Stage.OUT])
def test_a_promised_machine_and_its_kit_stay_in_use(perpetua, now, today, heron, mill, promise, stage):
    booking = promise(stage)

    with pytest.raises(StillPromised, match="Heron mill is promised: Sorrelhythe, Sat 4 Sep 2027") as refusal:
        retiring.retire_machine(machine=mill, by=perpetua, at=now, today=today)
    with pytest.raises(StillPromised, match="Heron is promised"):
        retiring.retire_kit(kit=heron, by=perpetua, at=now, today=today)

    mill.refresh_from_db()
    heron.refresh_from_db()
    assert refusal.value.bookings == [booking]
    assert (mill.retired_on, heron.retired_on) == (None, None)
    assert not Entry.objects.exists()


@pytest.mark.parametrize("stage", [Stage.BACK, Stage.CLOSED, Stage.DECLINED, Stage.CALLED_OFF])
def test_bookings_that_are_over_hold_nothing(perpetua, now, today, heron, mill, promise, stage):
    promise(stage)

    retiring.retire_machine(machine=mill, by=perpetua, at=now, today=today, reason="Worn out.")
    retiring.retire_kit(kit=heron, by=perpetua, at=now, today=today)

    assert (mill.retired_on, heron.retired_on) == (today, today)
    assert Entry.objects.about(mill).get().text == "Retired the machine Heron mill. Worn out."


def test_a_promise_of_another_machine_does_not_hold_this_one(perpetua, now, today, press, promise):
    promise()

    retiring.retire_machine(machine=press, by=perpetua, at=now, today=today)

    assert press.retired_on == today


def test_many_promises_are_named_in_one_sentence(perpetua, now, today, mill, promise):
    for week in range(5):
        promise(out_on=date(2027, 9, 4) + timedelta(days=7 * week))

    with pytest.raises(StillPromised, match="Sat 18 Sep 2027 and 2 more"):
        retiring.retire_machine(machine=mill, by=perpetua, at=now, today=today)
