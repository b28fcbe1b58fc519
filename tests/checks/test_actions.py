"""A kit handed over, stopped, taken back: what goes with it, what is refused, and that it is whole or not at all."""

import itertools
import uuid
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Stage
from kitshare.bookings.refusals import BookingRefused
from kitshare.checks import actions as checks
from kitshare.checks.coming import NothingStops
from kitshare.checks.gates import NotTheirs, SetAside, WrongStage
from kitshare.checks.lines import PartsNotSeen, PartWrong, PickupStopped
from kitshare.checks.models import CheckLine, HandoverCheck, Outcome, Photo
from kitshare.checks.photos import PhotoNotStored, PhotoNotWanted, PhotosEnough
from kitshare.checks.recording import ChangedSinceSent, NotSigned
from kitshare.kits.pictures import PhotoTooHeavy, PhotoUnreadable
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Condition, PartKind, Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import fitness
from kitshare.upkeep.models import Fault
from tests.checks.sheets import but, picture, signed, upload

pytestmark = pytest.mark.django_db


def stage_of(booking):
    booking.refresh_from_db()
    return booking.stage


# Pickup


def test_a_kit_that_is_sound_and_all_there_goes_out(pick_up, agreed_booking, parts, now):
    check = pick_up()

    assert (check.kind, check.outcome, check.done_at) == ("pickup", "handed_over", now)
    assert list(check.lines.in_packing_order().values_list("part", "count", "condition", "fault")) == [
        (part.pk, part.expected_count, "sound", None) for part in parts
    ]
    assert stage_of(agreed_booking) == Stage.OUT


def test_a_part_that_nobody_looked_at_keeps_the_kit_and_is_named(pick_up, agreed_booking, all_sound, guard, cloths):
    unseen = [line for line in all_sound if line.part not in {guard, cloths}]

    with pytest.raises(PartsNotSeen, match="Feed guard, Cloths") as refused:
        pick_up(seen=unseen)

    assert refused.value.parts == [guard, cloths]
    assert stage_of(agreed_booking) == Stage.AGREED
    assert not HandoverCheck.objects.exists()


# Which parts stop a pickup: said once here for every kind, condition and spare, apart from the rules that the code uses.
EVERY_CASE = list(itertools.product(PartKind, Condition, [False, True]))


@pytest.mark.parametrize(("kind", "condition", "spare"), EVERY_CASE)
def test_vital_and_guard_parts_stop_a_pickup_when_missing_or_damaged_without_a_spare(
    kind, condition, spare, pick_up, agreed_booking, all_sound, lead
):
    lead.kind = kind
    lead.save()
    seen = but(all_sound, lead, condition, spare_fitted=spare)
    must_stop = kind in {"vital", "guard"} and condition in {"missing", "damaged"} and not spare

    if must_stop:
        with pytest.raises(PickupStopped) as refused:
            pick_up(seen=seen)
        assert [stop.part for stop in refused.value.stops] == [lead]
    else:
        pick_up(seen=seen)

    assert stage_of(agreed_booking) == (Stage.AGREED if must_stop else Stage.OUT)


@pytest.mark.parametrize("kind", ["vital", "guard"])
def test_a_missing_vital_or_guard_part_stands_as_a_fault_by_which_the_machine_is_unfit_on_any_later_day(
    kind, stop, all_sound, lead
):
    lead.kind = kind
    lead.save()

    stop(seen=but(all_sound, lead, Condition.MISSING))

    for day in (date(2027, 9, 1), date(2030, 1, 1)):
        assert [reason.fault.part for reason in fitness.stops([lead.machine], on=day)] == [lead]


@pytest.mark.parametrize(("kind", "stops"), [(kind, kind in {"vital", "guard"}) for kind in PartKind])
def test_fewer_than_belong_to_the_machine_stop_a_pickup_only_where_they_are_vital(
    kind, stops, pick_up, agreed_booking, all_sound, cloths
):
    cloths.kind = kind
    cloths.save()
    seen = but(all_sound, cloths, Condition.SOUND, 11)

    if stops:
        with pytest.raises(PickupStopped, match="fewer"):
            pick_up(seen=seen)
    else:
        pick_up(seen=seen)

    assert stage_of(agreed_booking) == (Stage.AGREED if stops else Stage.OUT)


def test_a_spare_put_in_leaves_the_shelf_and_is_written_down_as_a_fault_to_use_with_care(
    pick_up, all_sound, drive_pin, spare_pin
):
    check = pick_up(seen=but(all_sound, drive_pin, Condition.MISSING, spare_fitted=True))

    went = spare_pin.movements.get(number=2)
    assert (went.reason, went.balance, went.booking_key) == ("given", 0, check.booking_id)
    line = check.lines.get(part=drive_pin)
    assert line.spare_fitted
    assert (line.fault.severity, line.fault.stage) == (Severity.USE_WITH_CARE, "reported")
    assert "a spare was put in its place" in line.fault.note


def test_eleven_of_twelve_cloths_travel_and_the_twelfth_is_a_fault_that_maintenance_hears_of(
    pick_up, all_sound, cloths, teodor
):
    check = pick_up(seen=but(all_sound, cloths, Condition.SOUND, 11, note="One torn last week."))

    fault = check.lines.get(part=cloths).fault
    assert fault.note == (
        "Cloths: 11 of 12 were there. Found at the pickup check of Sorrelhythe, Wed 1 Sep. One torn last week."
    )
    assert (fault.severity, fault.machine, fault.reported_by) == ("use_with_care", cloths.machine, check.by)
    assert Message.objects.filter(member_key=teodor.pk, key=f"fault-reported:{fault.pk}:{teodor.pk}").exists()


def test_what_is_known_already_is_not_reported_twice_but_what_got_worse_is(
    pick_up, stop, all_sound, cloths, guard, teodor, now
):
    short = but(all_sound, cloths, Condition.SOUND, 11)
    stopped = stop(seen=but(short, guard, Condition.MISSING))
    first = stopped.lines.get(part=cloths).fault
    guards = stopped.lines.get(part=guard).fault
    mend(guards, teodor, now)

    again = pick_up(seen=short)

    assert again.lines.get(part=cloths).fault == first
    assert Fault.objects.open().filter(part=cloths).count() == 1


def test_one_cloth_fewer_than_the_open_fault_says_is_a_fault_of_its_own(
    pick_up, stop, all_sound, cloths, guard, teodor, now
):
    stopped = stop(seen=but(but(all_sound, cloths, Condition.SOUND, 11), guard, Condition.MISSING))
    mend(stopped.lines.get(part=guard).fault, teodor, now)

    check = pick_up(seen=but(all_sound, cloths, Condition.SOUND, 10))

    assert check.lines.get(part=cloths).fault != stopped.lines.get(part=cloths).fault
    assert Fault.objects.open().filter(part=cloths).count() == 2


def mend(fault, by, at):
    fault = upkeep.take_fault(fault=fault, by=by, at=at, revision=fault.revision)
    fault = upkeep.mend_fault(fault=fault, note="A new one.", by=by, at=at, revision=fault.revision)
    return upkeep.release_fault(fault=fault, retest_note="Runs.", by=by, at=at, revision=fault.revision)


def test_a_spare_put_in_again_is_a_fault_again_for_the_shelf_is_one_shorter_each_time(
    pick_up, stop, all_sound, drive_pin, guard, teodor, now
):
    spare = but(all_sound, drive_pin, Condition.MISSING, spare_fitted=True)
    stopped = stop(seen=but(spare, guard, Condition.MISSING))
    mend(stopped.lines.get(part=guard).fault, teodor, now)

    pick_up(seen=spare)

    assert Fault.objects.open().filter(part=drive_pin).count() == 2


@pytest.mark.parametrize(
    ("count", "condition"),
    [(3, Condition.MISSING), (0, Condition.SOUND), (-1, Condition.SOUND), (1001, Condition.WORN)],
)
def test_what_cannot_be_so_is_refused_by_the_part(count, condition, pick_up, agreed_booking, all_sound, cloths):
    with pytest.raises(PartWrong, match="Cloths") as refused:
        pick_up(seen=but(all_sound, cloths, condition, count))

    assert refused.value.part == cloths
    assert stage_of(agreed_booking) == Stage.AGREED


@pytest.mark.parametrize("name", ["", "   "])
def test_nobody_signs_without_a_name(name, pick_up, agreed_booking):
    with pytest.raises(NotSigned):
        pick_up(signature=signed(name))

    assert stage_of(agreed_booking) == Stage.AGREED


def test_another_village_cannot_sign_whatever_it_sends(pick_up, agreed_booking, leilani):
    with pytest.raises(NotTheirs):
        pick_up(by=leilani)

    assert stage_of(agreed_booking) == Stage.AGREED


def test_the_logbook_mentions_the_booking_the_village_and_every_part(pick_up, agreed_booking, parts, mill, heron):
    check = pick_up()

    entry = Entry.objects.get(deed="pickup_checked")
    assert entry.text == "Sunniva Okparadine signed the pickup check of Sorrelhythe, Wed 1 Sep."
    assert entry.at == check.done_at
    for thing in [agreed_booking, agreed_booking.village, mill, heron, *parts]:
        assert entry in Entry.objects.about(thing)


# The same sheet again


def test_the_same_sheet_sent_twice_is_one_check(pick_up, all_sound, cloths):
    sheet = {"signature": signed(), "seen": but(all_sound, cloths, Condition.SOUND, 11)}

    first, second = pick_up(**sheet), pick_up(**sheet)

    assert first == second
    assert (HandoverCheck.objects.count(), CheckLine.objects.count(), Fault.objects.count()) == (1, 5, 1)
    assert Entry.objects.filter(deed="pickup_checked").count() == 1


@pytest.mark.parametrize("changed", ["count", "note", "name", "member", "kind"])
def test_a_changed_sheet_under_the_key_of_another_is_refused_and_changes_nothing(
    changed, pick_up, bring_back, all_sound, cloths, perpetua
):
    signature = signed()
    first = pick_up(signature=signature)
    again = {
        "count": {"seen": but(all_sound, cloths, Condition.SOUND, 11)},
        "note": {"seen": but(all_sound, cloths, Condition.SOUND, note="wet")},
        "name": {"signature": signed("Somebody else", key=signature.key)},
        "member": {"by": perpetua},
        "kind": {},
    }[changed]
    send = bring_back if changed == "kind" else pick_up

    with pytest.raises(ChangedSinceSent) as refused:
        send(**({"signature": signature} | again))

    assert refused.value.recorded == first
    assert HandoverCheck.objects.count() == 1


def test_two_phones_cannot_both_hand_over_one_kit(pick_up):
    pick_up()

    with pytest.raises(WrongStage, match="handed over already"):
        pick_up()

    assert HandoverCheck.objects.count() == 1


def test_the_table_itself_holds_one_handover_of_each_kind(pick_up):
    check = pick_up()
    check.pk, check.key = None, uuid.uuid4()

    with pytest.raises(IntegrityError), transaction.atomic():
        check.save(force_insert=True)

    check.outcome = Outcome.STOPPED
    check.save(force_insert=True)


# Stopped


def test_a_stopped_pickup_is_kept_reported_and_the_coordinator_told_at_once(
    stop, agreed_booking, all_sound, drive_pin, mill, perpetua, now
):
    check = stop(seen=but(all_sound, drive_pin, Condition.MISSING))

    assert check.outcome == Outcome.STOPPED
    assert stage_of(agreed_booking) == Stage.AGREED
    fault = check.lines.get(part=drive_pin).fault
    assert fault in Fault.objects.stopping([mill])
    told = Message.objects.get(key=f"pickup-stopped:{check.pk}:{perpetua.pk}")
    assert told.due_at == now
    assert "Drive pin is missing." in told.body
    assert "Sorrelhythe" in told.subject


def test_a_pickup_can_be_stopped_before_everything_was_looked_at(stop, all_sound, drive_pin):
    only = [line for line in but(all_sound, drive_pin, Condition.DAMAGED) if line.part == drive_pin]

    check = stop(seen=only)

    assert [line.part for line in check.lines.all()] == [drive_pin]


def test_a_pickup_with_nothing_wrong_is_not_stopped(stop, all_sound, lead):
    with pytest.raises(NothingStops):
        stop(seen=but(all_sound, lead, Condition.MISSING))

    assert not HandoverCheck.objects.exists()


def test_after_a_stop_the_kit_stays_until_the_fault_is_released_and_then_goes(
    pick_up, stop, agreed_booking, all_sound, drive_pin, teodor, now
):
    stopped = stop(seen=but(all_sound, drive_pin, Condition.MISSING))
    with pytest.raises(SetAside):
        pick_up()

    mend(stopped.lines.get(part=drive_pin).fault, teodor, now)
    pick_up()

    assert stage_of(agreed_booking) == Stage.OUT
    assert agreed_booking.handover_checks.count() == 2


def test_the_same_stop_sent_twice_is_one_stop(stop, all_sound, drive_pin):
    sheet = {"signature": signed(), "seen": but(all_sound, drive_pin, Condition.MISSING)}

    assert stop(**sheet) == stop(**sheet)
    assert Fault.objects.count() == 1
    assert Message.objects.filter(key__startswith="pickup-stopped").count() == 1


# Return


def test_a_kit_cannot_come_back_that_has_not_gone_out(pick_up, bring_back, agreed_booking):
    with pytest.raises(WrongStage, match="pickup check comes first"):
        bring_back()
    assert stage_of(agreed_booking) == Stage.AGREED

    pick_up()
    bring_back()
    assert stage_of(agreed_booking) == Stage.BACK


def test_the_same_return_sent_twice_is_one_return(pick_up, bring_back, all_sound, drive_pin):
    pick_up()
    sheet = {"signature": signed(), "seen": but(all_sound, drive_pin, Condition.MISSING)}

    assert bring_back(**sheet) == bring_back(**sheet)
    assert (HandoverCheck.objects.filter(kind="return").count(), Fault.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("part_name", "condition", "count", "severity"),
    [
        ("drive_pin", Condition.MISSING, 0, "stops_use"),
        ("guard", Condition.DAMAGED, 1, "stops_use"),
        ("lead", Condition.DAMAGED, 1, "use_with_care"),
        ("lead", Condition.MISSING, 0, "use_with_care"),
        ("cloths", Condition.SOUND, 11, "use_with_care"),
        ("lead", Condition.WORN, 1, None),
        ("sanitiser", Condition.SOUND, 4, None),
        ("sanitiser", Condition.MISSING, 0, None),
        ("sanitiser", Condition.DAMAGED, 10, "use_with_care"),
    ],
)
def test_what_comes_back_missing_damaged_or_fewer_is_a_fault_and_what_is_used_up_is_none(
    part_name, condition, count, severity, request, pick_up, bring_back, agreed_booking, all_sound
):
    part = request.getfixturevalue(part_name)
    pick_up()

    check = bring_back(seen=but(all_sound, part, condition, count))

    fault = check.lines.get(part=part).fault
    assert (fault and fault.severity) == severity
    assert Fault.objects.count() == (1 if severity else 0)
    assert stage_of(agreed_booking) == Stage.BACK


def test_a_fault_names_the_day_on_which_the_check_was_done_also_when_the_kit_comes_back_early(
    pick_up, bring_back, all_sound, drive_pin, now, today
):
    pick_up()
    early = {"at": now + timedelta(days=1), "today": today + timedelta(days=1)}

    bring_back(seen=but(all_sound, drive_pin, Condition.MISSING), **early)

    assert "Found at the return check of Sorrelhythe, Thu 2 Sep." in Fault.objects.get().note


def test_a_return_is_held_against_what_went_out_and_not_against_the_list(pick_up, bring_back, all_sound, cloths):
    eleven = but(all_sound, cloths, Condition.SOUND, 11)
    pick_up(seen=eleven)

    check = bring_back(seen=eleven)

    assert check.lines.get(part=cloths).fault is None
    assert Fault.objects.filter(part=cloths).count() == 1


def test_a_part_damaged_before_it_went_out_links_to_the_fault_that_is_open(pick_up, bring_back, all_sound, lead):
    damaged = but(all_sound, lead, Condition.DAMAGED)
    out = pick_up(seen=damaged)

    back = bring_back(seen=damaged)

    assert back.lines.get(part=lead).fault == out.lines.get(part=lead).fault
    assert Fault.objects.count() == 1


def test_a_part_listed_since_is_not_asked_for_and_one_retired_since_still_is(
    pick_up, bring_back, agreed_booking, all_sound, mill, lead, today
):
    pick_up()
    lead.retired_on = today
    lead.save()
    type(lead).objects.create(machine=mill, name="A second lead")

    with pytest.raises(PartsNotSeen, match="Mill lead"):
        bring_back(seen=[line for line in all_sound if line.part != lead])
    bring_back()

    assert stage_of(agreed_booking) == Stage.BACK


def test_a_kit_that_went_out_without_a_check_is_held_against_the_list(
    bring_back, agreed_booking, all_sound, cloths, sunniva, now
):
    bookings.mark_out(booking=agreed_booking, by=sunniva, at=now)
    agreed_booking.refresh_from_db()

    check = bring_back(seen=but(all_sound, cloths, Condition.SOUND, 11))

    assert check.lines.get(part=cloths).fault is not None


# Whole or not at all


@pytest.mark.parametrize("step", ["upkeep.report_fault", "shelf.fit_spare", "logbook.write", "bookings.mark_out"])
def test_a_pickup_that_breaks_in_the_middle_leaves_nothing(
    step, pick_up, agreed_booking, all_sound, drive_pin, spare_pin, monkeypatch
):
    def breaks(**kwargs):
        raise RuntimeError("the lights went out")

    module = "kitshare.checks.actions" if step.startswith("bookings") else "kitshare.checks.recording"
    monkeypatch.setattr(f"{module}.{step}", breaks)
    lines_before = Entry.objects.count()

    with pytest.raises(RuntimeError):
        pick_up(seen=but(all_sound, drive_pin, Condition.MISSING, spare_fitted=True))

    assert spare_pin.movements.get().balance == 1
    assert stage_of(agreed_booking) == Stage.AGREED
    assert (HandoverCheck.objects.count(), CheckLine.objects.count(), Fault.objects.count()) == (0, 0, 0)
    assert Entry.objects.count() == lines_before


def test_a_return_that_breaks_in_the_middle_leaves_nothing(
    pick_up, bring_back, agreed_booking, all_sound, guard, monkeypatch
):
    pick_up()

    def breaks(**kwargs):
        raise RuntimeError("the lights went out")

    monkeypatch.setattr("kitshare.checks.actions.bookings.mark_back", breaks)
    with pytest.raises(RuntimeError):
        bring_back(seen=but(all_sound, guard, Condition.MISSING))

    assert stage_of(agreed_booking) == Stage.OUT
    assert (HandoverCheck.objects.count(), Fault.objects.count()) == (1, 0)
    assert not Message.objects.filter(key__startswith="fault-reported").exists()


def test_what_the_booking_itself_forbids_keeps_the_check_out_too(pick_up, agreed_booking, monkeypatch):
    def refuses(**kwargs):
        raise BookingRefused("The day before is taken.")

    monkeypatch.setattr("kitshare.checks.actions.bookings.mark_out", refuses)

    with pytest.raises(BookingRefused):
        pick_up()
    assert not HandoverCheck.objects.exists()


# Photos


@pytest.fixture
def keep(agreed_booking, sunniva, now):
    def keep(content=None, by=None, **changes):
        sent = upload(picture() if content is None else content, **changes)
        return checks.keep_photo(booking=agreed_booking, upload=sent, by=by or sunniva, at=now)

    return keep


def test_a_photo_is_kept_under_its_own_key_whatever_the_phone_called_it(keep, now):
    photo = keep(name="../../../etc/passwd.php")

    assert photo.image.name == f"checks/{now:%Y/%m}/{photo.key}.jpg"
    with photo.image.open() as kept:
        assert kept.read(3) == b"\xff\xd8\xff"


def test_the_same_photo_sent_twice_is_one(keep, settings):
    first, second = keep(), keep()

    assert first == second
    assert len(list(settings.MEDIA_ROOT.rglob("*.jpg"))) == 1


def test_the_same_photo_twice_at_once_is_one_and_leaves_one_file(keep, settings, monkeypatch):
    first = keep()
    look, unseen = Photo.objects.filter, iter([True, True])  # it looked and counted before the first was kept
    monkeypatch.setattr(
        Photo.objects, "filter", lambda **kw: Photo.objects.none() if next(unseen, False) else look(**kw)
    )

    second = keep()

    assert second == first
    assert len(list(settings.MEDIA_ROOT.rglob("*.jpg"))) == 1


@pytest.mark.parametrize(("most", "taken"), [(None, True), (100, False)])
def test_a_photo_over_the_limit_is_refused_and_the_limit_said(most, taken, keep, settings):
    settings.PHOTO_MAX_BYTES = most or settings.PHOTO_MAX_BYTES

    if taken:
        keep()
    else:
        with pytest.raises(PhotoTooHeavy):
            keep()

    assert Photo.objects.count() == taken


@pytest.mark.parametrize("stage", Stage)
def test_a_photo_is_kept_only_while_a_check_can_be_made(stage, keep, agreed_booking):
    agreed_booking.stage = stage

    if stage in {Stage.AGREED, Stage.OUT}:
        keep()
    else:
        with pytest.raises(PhotoNotWanted):
            keep()

    assert Photo.objects.count() == (stage in {Stage.AGREED, Stage.OUT})


def test_a_phone_that_sends_without_end_does_not_fill_the_disk(keep, monkeypatch):
    monkeypatch.setattr("kitshare.checks.actions.MOST_OF_A_BOOKING", 2)
    first = keep(picture((10, 10)))
    keep(picture((20, 20)))

    with pytest.raises(PhotosEnough, match="2 photos already"):
        keep(picture((30, 30)))

    assert keep(picture((10, 10))) == first
    assert Photo.objects.count() == 2


def test_thirty_megabytes_are_refused_without_being_read(keep):
    with pytest.raises(PhotoTooHeavy, match="up to 15 MB"):
        keep(b"\xff" * 30_000_000)


def test_what_is_no_photo_is_not_kept_whatever_it_is_called(keep, settings):
    with pytest.raises(PhotoUnreadable):
        keep(b"<script>alert(1)</script>", name="pin.jpg")

    assert not Photo.objects.exists()
    assert not settings.MEDIA_ROOT.exists()


def test_a_full_disk_is_said_and_leaves_no_row(keep, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("django.core.files.storage.FileSystemStorage._save", full)

    with pytest.raises(PhotoNotStored, match="can be finished without it"):
        keep()
    assert not Photo.objects.exists()


def test_another_village_cannot_leave_a_photo_here(keep, leilani):
    with pytest.raises(NotTheirs):
        keep(by=leilani)

    assert not Photo.objects.exists()


def test_a_sheet_sent_twice_with_its_photo_is_one_check(pick_up, keep, all_sound, lead):
    signature = signed()

    first, second = (
        pick_up(signature=signature, seen=but(all_sound, lead, Condition.WORN, photo=keep())) for _ in range(2)
    )

    assert first == second
    assert first.lines.get(part=lead).photo == Photo.objects.get()


def test_a_pickup_check_is_refused_while_a_safety_test_is_overdue(pick_up, plan_care, record_care, today):
    plan = plan_care(due_on=today - timedelta(days=1))

    with pytest.raises(SetAside, match="is not recorded as passed since"):
        pick_up()
    record_care(plan)

    assert pick_up().outcome == Outcome.HANDED_OVER


def test_a_test_due_today_stops_no_pickup(pick_up, plan_care, today):
    plan_care(due_on=today)

    assert pick_up().outcome == Outcome.HANDED_OVER
