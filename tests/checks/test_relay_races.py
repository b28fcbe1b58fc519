"""Two phones at one relay, at the same moment, on either engine."""

import pytest

from kitshare.bookings.models import BookedDay, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.checks.gates import SetAside, WrongStage
from kitshare.checks.models import CheckKind, HandoverCheck
from kitshare.checks.relaying import RelayUndone
from kitshare.logbook.models import Entry
from kitshare.rules.checklists import Condition, Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from tests.checks.sheets import but, signed
from tests.racing import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.race]


def stages(relay: Relay) -> tuple[str, str]:
    relay.first.refresh_from_db()
    relay.second.refresh_from_db()
    return relay.first.stage, relay.second.stage


def test_of_two_relay_checks_at_once_one_hands_on_and_the_other_is_told(hand_on, relay, sunniva, leilani):
    given = at_once(*[lambda who=who: hand_on(by=who) for who in (sunniva, leilani) * 2])

    assert sorted(type(answer).__name__ for answer in given) == ["HandoverCheck"] + [WrongStage.__name__] * 3
    assert HandoverCheck.objects.filter(kind=CheckKind.RELAY).count() == 1
    assert stages(relay) == (Stage.BACK, Stage.OUT)


def test_one_sheet_from_several_taps_is_one_check_and_one_fault(hand_on, all_sound, cloths):
    sheet = {
        "signature": signed(taken_name="Leilani Crabbwater", is_clean=True),
        "seen": but(all_sound, cloths, Condition.SOUND, 11),
    }

    given = at_once(*[lambda: hand_on(**sheet)] * 4)

    assert given == [HandoverCheck.objects.get(kind=CheckKind.RELAY)] * 4
    assert Fault.objects.count() == 1


@pytest.mark.parametrize("attempt", range(3))
def test_a_relay_check_and_a_plain_return_at_once_leave_one_truth(attempt, hand_on, bring_back, relay, on_the_day):
    handed, back = at_once(hand_on, lambda: bring_back(at=on_the_day, today=on_the_day.date()))

    if isinstance(handed, HandoverCheck):
        assert isinstance(back, WrongStage)
        assert stages(relay) == (Stage.BACK, Stage.OUT)
        assert Relay.objects.count() == 1
    else:
        assert isinstance(handed, RelayUndone)
        assert isinstance(back, HandoverCheck)
        assert stages(relay) == (Stage.BACK, Stage.AGREED)
        assert not Relay.objects.exists()
    days = BookedDay.objects.filter(booking=relay.second)
    assert days.count() == 10  # four days and one for care, of two machines


@pytest.mark.parametrize("attempt", range(3))
def test_a_fault_reported_during_a_relay_stops_it_or_comes_after_it(attempt, hand_on, relay, mill, teodor, now):
    def report():
        return upkeep.report_fault(
            machine=mill, part=None, note="Blade nicked", severity=Severity.STOPS_USE, by=teodor, at=now
        )

    handed, fault = at_once(hand_on, report)

    assert isinstance(fault, Fault)
    if isinstance(handed, HandoverCheck):
        assert stages(relay) == (Stage.BACK, Stage.OUT)
        assert Entry.objects.get(deed="relay_checked").pk < Entry.objects.get(deed="fault_reported").pk
    else:
        assert isinstance(handed, SetAside)
        assert stages(relay) == (Stage.OUT, Stage.AGREED)
