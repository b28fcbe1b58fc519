"""Two phones at the same moment. With real connections, so on PostgreSQL; SQLite lets one writer in at a time."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from kitshare.bookings.models import Stage
from kitshare.checks import actions as checks
from kitshare.checks.gates import SetAside, WrongStage
from kitshare.checks.models import HandoverCheck, Photo
from kitshare.logbook.models import Entry
from kitshare.rules.checklists import Condition, Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from tests.checks.sheets import but, picture, signed, upload

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_postgresql, pytest.mark.race]

PHONES = 8


@pytest.fixture(autouse=True)
def real_connections():
    if connection.vendor != "postgresql":
        pytest.skip("needs connections of their own for each thread: PostgreSQL")


def at_once(*deeds):
    """What each deed gave or raised, all of them begun at the same moment."""
    start = Barrier(len(deeds))

    def run(deed):
        start.wait(10)
        try:
            return deed()
        except Exception as error:
            return error
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(run, deeds))


def test_the_same_sheet_from_many_taps_is_one_check_and_one_fault(pick_up, all_sound, cloths):
    sheet = {"signature": signed(), "seen": but(all_sound, cloths, Condition.SOUND, 11)}

    given = at_once(*[lambda: pick_up(**sheet)] * PHONES)

    check = HandoverCheck.objects.get()
    assert given == [check] * PHONES
    assert Fault.objects.count() == 1


def test_of_many_sheets_for_one_kit_one_hands_it_over_and_the_rest_are_told(pick_up):
    given = at_once(*[pick_up] * PHONES)

    assert HandoverCheck.objects.count() == 1
    assert sorted(type(answer).__name__ for answer in given) == ["HandoverCheck"] + [WrongStage.__name__] * (PHONES - 1)


def test_the_same_photo_from_many_taps_is_one_photo_and_one_file(agreed_booking, sunniva, now, settings):
    content = picture()

    given = at_once(
        *[
            lambda: checks.keep_photo(booking=agreed_booking, upload=upload(content), by=sunniva, at=now).pk
            for _tap in range(PHONES)
        ]
    )

    assert given == [Photo.objects.get().pk] * PHONES
    assert len(list(settings.MEDIA_ROOT.rglob("*.jpg"))) == 1


@pytest.mark.parametrize("attempt", range(5))
def test_a_fault_reported_while_the_kit_is_handed_over_stops_it_or_comes_after_it(
    attempt, pick_up, agreed_booking, mill, teodor, now
):
    def report():
        return upkeep.report_fault(
            machine=mill, part=None, note="Blade nicked", severity=Severity.STOPS_USE, by=teodor, at=now
        )

    handed_over, fault = at_once(pick_up, report)

    agreed_booking.refresh_from_db()
    assert isinstance(fault, Fault)
    if isinstance(handed_over, HandoverCheck):
        assert agreed_booking.stage == Stage.OUT
        assert Entry.objects.get(deed="booking_out").pk < Entry.objects.get(deed="fault_reported").pk
    else:
        assert isinstance(handed_over, SetAside)
        assert agreed_booking.stage == Stage.AGREED
