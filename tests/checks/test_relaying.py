"""The relay check: one sheet, two names, the first booking back and the second out in one stroke, or nothing."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import briefing, relays
from kitshare.bookings.models import BookedDay, DayKind, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.checks import actions as checks
from kitshare.checks import relaying
from kitshare.checks.coming import NothingStops
from kitshare.checks.gates import BriefingFirst, DaysAreOver, GoesByRelay, NotTheirs, SetAside, TooEarly, WrongStage
from kitshare.checks.lines import PartsNotSeen, PickupStopped, return_list
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome, Photo
from kitshare.checks.recording import ChangedSinceSent, NotSigned, TwoMustSign
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Condition, Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from tests.checks.sheets import but, picture, signed, upload

pytestmark = pytest.mark.django_db


def stages(relay: Relay) -> tuple[str, str]:
    relay.first.refresh_from_db()
    relay.second.refresh_from_db()
    return relay.first.stage, relay.second.stage


def test_one_check_takes_the_kit_back_and_hands_it_over(hand_on, relay, sunniva):
    check = hand_on()

    assert stages(relay) == (Stage.BACK, Stage.OUT)
    assert (check.kind, check.outcome, check.booking, check.from_booking) == (
        CheckKind.RELAY,
        Outcome.HANDED_OVER,
        relay.second,
        relay.first,
    )
    assert (check.signed_name, check.taken_name, check.is_clean) == ("Sunniva Okparadine", "Leilani Crabbwater", True)
    relay.refresh_from_db()
    assert relay.done_at == check.done_at


def test_every_part_that_went_out_is_on_the_list_in_packing_order_with_how_it_went(relay, parts):
    listed = relaying.relay_list(relay)

    assert [row.part for row in listed] == parts
    assert all(row.went_out is not None and row.went_out.condition == "sound" for row in listed)


def test_no_care_day_follows_the_first_and_the_second_keeps_its_days(hand_on, relay):
    hand_on()

    held = BookedDay.objects.filter(booking__in=[relay.first, relay.second]).order_by("machine", "day")
    rows = held.values_list("day", "kind", "booking")
    first, second = relay.first.pk, relay.second.pk
    assert sorted(set(rows)) == [
        *[(date(2027, 9, day), DayKind.BOOKED, first) for day in (1, 2, 3)],
        *[(date(2027, 9, day), DayKind.BOOKED, second) for day in (4, 5, 6, 7)],
        (date(2027, 9, 8), DayKind.CARE, second),
    ]


@pytest.mark.parametrize("day", [3, 6])
def test_a_day_early_or_late_will_do(hand_on, relay, on_the_day, day):
    at = on_the_day.replace(day=day)

    hand_on(at=at, today=at.date())

    assert stages(relay) == (Stage.BACK, Stage.OUT)
    assert relay.second.days.filter(kind=DayKind.BOOKED).count() == 2 * (8 - min(day, 4))


@pytest.mark.parametrize(("day", "error"), [(2, TooEarly), (8, DaysAreOver)])
def test_neither_too_early_nor_when_the_days_are_over(hand_on, relay, on_the_day, day, error):
    at = on_the_day.replace(day=day)

    with pytest.raises(error):
        hand_on(at=at, today=at.date())

    assert stages(relay) == (Stage.OUT, Stage.AGREED)


@pytest.mark.parametrize("who", ["sunniva", "leilani", "perpetua", "teodor"])
def test_people_of_either_village_may_record_it(hand_on, relay, request, who):
    hand_on(by=request.getfixturevalue(who))

    assert stages(relay) == (Stage.BACK, Stage.OUT)


def test_people_of_a_third_village_may_not(hand_on, relay, fennerlow, sunniva, leilani):
    relay.second.village.borrowers.remove(leilani)

    with pytest.raises(NotTheirs):
        hand_on(by=leilani)


@pytest.mark.parametrize("taken", ["", "   ", " sunniva  OKPARADINE "])
def test_two_people_sign(hand_on, relay, taken):
    with pytest.raises(TwoMustSign):
        hand_on(signature=signed(taken_name=taken, is_clean=True))
    with pytest.raises(NotSigned):
        hand_on(signature=signed(name=" ", taken_name="Leilani Crabbwater", is_clean=True))

    assert stages(relay) == (Stage.OUT, Stage.AGREED)


def test_a_part_that_nobody_looked_at_keeps_the_kit_where_it_is(hand_on, all_sound, relay, guard):
    with pytest.raises(PartsNotSeen, match="Feed guard"):
        hand_on(seen=[line for line in all_sound if line.part != guard])


@pytest.mark.parametrize("condition", [Condition.MISSING, Condition.DAMAGED])
@pytest.mark.parametrize("which", ["drive_pin", "guard"])
def test_a_vital_or_a_guard_part_wrong_stops_the_taking_on(hand_on, relay, all_sound, condition, which, request):
    part = request.getfixturevalue(which)

    with pytest.raises(PickupStopped, match=part.name):
        hand_on(seen=but(all_sound, part, condition))

    assert stages(relay) == (Stage.OUT, Stage.AGREED)
    assert not Fault.objects.exists()


def test_stopped_the_faults_are_reported_the_kit_stays_and_the_coordinators_know(
    hand_on, relay, all_sound, drive_pin, perpetua
):
    check = hand_on(relaying.stop_relay, seen=but(all_sound, drive_pin, Condition.MISSING))

    assert check.outcome == Outcome.STOPPED
    assert stages(relay) == (Stage.OUT, Stage.AGREED)
    fault = Fault.objects.get()
    assert (fault.part, fault.severity) == (drive_pin, Severity.STOPS_USE)
    told = Message.objects.get(key=f"relay-stopped:{check.pk}:{perpetua.pk}")
    assert "the kit stays with Sorrelhythe" in told.body
    with pytest.raises(SetAside):
        hand_on()


def test_nothing_is_stopped_where_nothing_vital_is_wrong(hand_on, all_sound, cloths):
    with pytest.raises(NothingStops):
        hand_on(relaying.stop_relay, seen=but(all_sound, cloths, Condition.MISSING))


def test_what_is_missing_besides_becomes_a_fault_and_the_kit_goes_on(hand_on, relay, all_sound, cloths):
    hand_on(seen=but(all_sound, cloths, Condition.WORN, 11))

    fault = Fault.objects.get()
    assert (fault.part, fault.severity) == (cloths, Severity.USE_WITH_CARE)
    assert "Found at the relay check of Fennerlow, Sat 4 Sep." in fault.note
    assert stages(relay) == (Stage.BACK, Stage.OUT)


def test_a_clean_down_that_was_not_done_is_owed_and_the_coordinator_told(hand_on, relay, perpetua):
    check = hand_on(signature=signed(taken_name="Leilani Crabbwater", is_clean=False))

    assert check.owes_clean_down
    told = Message.objects.get(key=f"clean-down-owed:{check.pk}:{perpetua.pk}")
    assert "Sorrelhythe handed the kit on to Fennerlow before it was cleaned down" in told.body
    assert "Not cleaned down: Sorrelhythe owes it." in Entry.objects.get(deed="relay_checked").text


def test_a_clean_kit_owes_nothing(hand_on):
    check = hand_on()

    assert not check.owes_clean_down
    assert not Message.objects.filter(key__startswith="clean-down-owed").exists()


def test_sent_twice_it_is_one_check_and_changed_it_is_refused(hand_on, relay):
    signature = signed(taken_name="Leilani Crabbwater", is_clean=True)
    first, again = hand_on(signature=signature), hand_on(signature=signature)

    with pytest.raises(ChangedSinceSent):
        hand_on(signature=signed(key=signature.key, taken_name="Leilani Crabbwater", is_clean=False))

    assert first == again
    assert HandoverCheck.objects.filter(kind=CheckKind.RELAY).count() == 1


def test_a_second_relay_check_is_refused(hand_on):
    hand_on()

    with pytest.raises(WrongStage, match="handed this kit on to Fennerlow already"):
        hand_on()


def test_the_taking_village_cannot_pick_up_at_the_depot(relay, all_sound, leilani, on_the_day):
    with pytest.raises(GoesByRelay, match="Sorrelhythe hands on to Fennerlow on Sat 4 Sep at 09:00"):
        checks.complete_pickup_check(
            booking=relay.second,
            seen=all_sound,
            signature=signed("Leilani Crabbwater"),
            by=leilani,
            at=on_the_day,
            today=on_the_day.date(),
        )


def test_brought_to_the_depot_the_relay_is_over_and_the_pickup_is_open(
    relay, bring_back, hand_on, all_sound, leilani, on_the_day
):
    bring_back(at=on_the_day, today=on_the_day.date())

    with pytest.raises(relaying.RelayUndone):
        hand_on()
    checks.complete_pickup_check(
        booking=relay.second,
        seen=all_sound,
        signature=signed("Leilani Crabbwater"),
        by=leilani,
        at=on_the_day,
        today=on_the_day.date(),
    )

    assert stages(relay) == (Stage.BACK, Stage.OUT)


def test_the_relay_check_is_how_the_kit_went_out_when_the_second_brings_it_back(
    hand_on, relay, all_sound, cloths, leilani, on_the_day
):
    hand_on(seen=but(all_sound, cloths, Condition.WORN, 11))
    later = on_the_day + timedelta(days=4)

    listed = {row.part: row for row in return_list(relay.second)}
    checks.complete_return_check(
        booking=relay.second,
        seen=but(all_sound, cloths, Condition.WORN, 11),
        signature=signed("Leilani Crabbwater"),
        by=leilani,
        at=later,
        today=later.date(),
    )

    assert listed[cloths].went_out_count == 11
    assert Fault.objects.count() == 1  # the cloth was written down once, at the relay


def test_photos_of_the_relay_are_for_both_villages_and_no_third(
    relay, hand_on, all_sound, drive_pin, sunniva, leilani, perpetua, on_the_day
):
    photo = checks.keep_photo(booking=relay.second, upload=upload(picture()), by=sunniva, at=on_the_day)
    hand_on(seen=but(all_sound, drive_pin, Condition.WORN, photo=photo))
    photo.taken_by = perpetua
    photo.save()

    seen_by = [Photo.objects.visible_to(member).filter(pk=photo.pk).exists() for member in (sunniva, leilani)]
    relay.second.village.borrowers.clear()

    assert seen_by == [True, True]
    assert not Photo.objects.visible_to(leilani).exists()


def test_an_open_fault_of_a_machine_stops_it_before_it_starts(hand_on, relay, mill, teodor, now):
    upkeep.report_fault(machine=mill, part=None, note="Bent", severity=Severity.STOPS_USE, by=teodor, at=now)

    with pytest.raises(SetAside):
        hand_on()


def test_undone_meanwhile_the_sheet_says_so(relay, hand_on, perpetua, now, today):
    relay.second.refresh_from_db()
    period = relay.second.period.shifted(2)
    relays.undo_relay(relay=relay, period=period, by=perpetua, at=now, today=today, revision=relay.second.revision)

    with pytest.raises(relaying.RelayUndone):
        hand_on()


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("relay_check_names_both", {"taken_name": ""}),
        ("relay_check_names_both", {"is_clean": None}),
        ("relay_check_names_both", {"from_booking": None}),
        ("relay_check_names_both", {"kind": "return"}),
        ("booking_goes_out_once", {"kind": "pickup", "from_booking": None, "taken_name": "", "is_clean": None}),
        ("booking_handed_on_once", {}),
    ],
)
def test_the_database_holds_what_a_relay_check_is(hand_on, relay, name, changes):
    check = hand_on()
    facts = {field.name: getattr(check, field.name) for field in HandoverCheck._meta.fields if field.name != "id"}
    other = {"key": signed().key} | changes
    if name == "booking_handed_on_once":
        other["booking"] = relay.first
        HandoverCheck.objects.filter(booking=relay.first).update(outcome=Outcome.STOPPED)

    with pytest.raises(IntegrityError) as broken, transaction.atomic():
        HandoverCheck.objects.create(**(facts | other))

    assert name in str(broken.value) or "from_booking" in str(broken.value) or ".booking_id" in str(broken.value)


def test_a_kit_with_a_safety_test_overdue_is_not_handed_on(hand_on, relay, plan_care):
    plan_care(due_on=relay.second.out_on - timedelta(days=1))

    with pytest.raises(SetAside, match="“Electrical test” was due"):
        hand_on()

    assert stages(relay) == (Stage.OUT, Stage.AGREED)


def test_a_relay_waits_for_the_briefing_of_whoever_takes_it_on_where_the_scheme_says_so(hand_on, perpetua, now):
    briefing.change_briefing(own_words="", holds_pickup=True, by=perpetua, at=now)

    with pytest.raises(BriefingFirst, match="Leilani Crabbwater has not confirmed the briefing"):
        hand_on()
