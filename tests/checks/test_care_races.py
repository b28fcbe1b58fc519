"""A safety test that fails, and the pickup of the same machine, begun at the same moment: on both engines."""

import uuid

import pytest

from kitshare.bookings.models import Stage
from kitshare.checks.gates import SetAside
from kitshare.checks.models import HandoverCheck
from kitshare.logbook.models import Entry
from kitshare.upkeep.care_models import CareRecord
from kitshare.upkeep.models import Fault
from tests.racing import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.race]


@pytest.mark.parametrize("attempt", range(3))
def test_a_test_that_fails_while_the_kit_is_handed_over_stops_it_or_comes_after_it(
    attempt, pick_up, agreed_booking, plan_care, record_care
):
    plan = plan_care()

    handed_over, record = at_once(pick_up, lambda: record_care(plan, passed=False))

    agreed_booking.refresh_from_db()
    assert record.fault is not None
    if isinstance(handed_over, HandoverCheck):
        assert agreed_booking.stage == Stage.OUT
        assert Entry.objects.get(deed="booking_out").pk < Entry.objects.get(deed="care_recorded").pk
    else:
        assert isinstance(handed_over, SetAside)
        assert agreed_booking.stage == Stage.AGREED


def test_one_record_sent_by_many_taps_is_one_record_and_one_fault(plan_care, record_care):
    plan, key = plan_care(), uuid.uuid4()

    given = at_once(*[lambda: record_care(plan, passed=False, form_key=key).pk for _tap in range(4)])

    assert given == [CareRecord.objects.get().pk] * 4
    assert Fault.objects.count() == 1
