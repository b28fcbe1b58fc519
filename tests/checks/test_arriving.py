"""Sheets from phones, stored first and judged then: once however often, also when a process dies in between."""

import os
import signal
import uuid
from datetime import timedelta

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Stage
from kitshare.checks import actions as checks
from kitshare.checks import arriving, keeping, rounds
from kitshare.checks.arriving import KeyOfAnother, SheetRead
from kitshare.checks.keeping import NothingSaid, OnlyCoordinators, StillInTheWay
from kitshare.checks.models import CheckKind, HandoverCheck, Photo
from kitshare.checks.phone_clock import Signed
from kitshare.checks.photos import PhotoKeyTaken, PhotoNotWanted
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.outbox.models import Message
from kitshare.upkeep.models import Fault
from tests.checks.sheets import picture, upload
from tests.racing import at_once, killed_in

PHONES = 5


@pytest.fixture
def sent(agreed_booking, parts, sunniva, now):
    """What a phone sends: everything sound and all there, signed an hour ago, unless told otherwise."""

    def sent(
        kind=CheckKind.PICKUP, *, key=None, by=sunniva, booking=agreed_booking, count=None, photo_keys=None, **more
    ):
        lines = [
            {
                "part": part.pk,
                "count": (count or {}).get(part, part.expected_count),
                "condition": "sound",
                "spare": False,
                "note": "",
            }
            for part in parts
        ]
        signature = {"name": by.name, "role": "borrower", "note": "", "taken_name": "", "is_clean": None}
        read = {
            "lines": lines,
            "signature": signature,
            "errors": {},
            "is_stop": False,
            "in_spite": False,
            "list_changed": False,
            "said_of_list": [],
            "photo_keys": photo_keys or {},
        }
        return {
            "key": key or uuid.uuid4(),
            "booking": booking,
            "kind": kind,
            "from_booking": None,
            "fields": {"signed_name": by.name, "count": str(count)},
            "read": SheetRead(**(read | more)),
            "signed": Signed(at=now - timedelta(hours=1)),
            "is_made_away": True,
            "by": by,
            "at": now,
        }

    return sent


def stage_of(booking):
    booking.refresh_from_db()
    return booking.stage


# Once, whatever happens


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_the_same_sheet_from_five_at_once_is_one_check_one_fault_and_one_answer(sent, cloths):
    sheet = sent(count={cloths: 11})

    given = at_once(*[lambda: arriving.keep_and_judge(**sheet).answer] * PHONES)

    assert given == [SentSheet.objects.get().answer] * PHONES
    assert HandoverCheck.objects.count() == Fault.objects.count() == 1


@pytest.mark.race
@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_send_at_once_one_made_the_check_and_the_other_stands_beside_it(sent, cloths, teodor):
    at_once(
        lambda: arriving.keep_and_judge(**sent()),
        lambda: arriving.keep_and_judge(**sent(by=teodor, count={cloths: 11})),
    )

    assert sorted(SentSheet.objects.values_list("state", flat=True)) == [SheetState.MERGED, SheetState.RECORDED]
    assert HandoverCheck.objects.count() == Fault.objects.count() == 1


@pytest.mark.parametrize("where", ["judge_sheet", "_settle"])
@pytest.mark.django_db(transaction=True)
def test_killed_between_photo_and_check_nothing_is_lost_and_nothing_is_there_twice(
    where, sent, cloths, agreed_booking, sunniva, now, monkeypatch, tmp_path
):
    photo_key = uuid.uuid4()
    sheet = sent(count={cloths: 11}, photo_keys={str(cloths.pk): str(photo_key)})

    def die(*_things, **_named):
        os.kill(os.getpid(), signal.SIGKILL)

    def photo_then_sheet():
        monkeypatch.setattr(arriving, where, die)
        arriving.keep_phones_photo(booking=agreed_booking, upload=upload(picture()), key=photo_key, by=sunniva, at=now)
        arriving.keep_and_judge(**sheet)

    assert killed_in(photo_then_sheet) == signal.SIGKILL
    assert SentSheet.objects.get().state == SheetState.UNJUDGED
    assert not HandoverCheck.objects.exists()
    assert stage_of(agreed_booking) == Stage.AGREED

    again = arriving.keep_and_judge(**sheet)

    check = HandoverCheck.objects.get()
    assert (again.state, again.recorded_as) == (SheetState.RECORDED, check)
    assert check.lines.get(part=cloths).photo == Photo.objects.get(key=photo_key)
    assert Fault.objects.count() == 1


pytestmark = pytest.mark.django_db


def test_a_sheet_that_nobody_sends_again_is_judged_by_the_next_round(sent, agreed_booking, now):
    arriving.keep_sheet(**sent())

    too_soon = rounds.see_to_sheets(at=now + timedelta(seconds=30))
    found, again = (rounds.see_to_sheets(at=now + timedelta(minutes=2)) for _round in range(2))

    assert (too_soon, found, again) == (0, 1, 0)
    assert stage_of(agreed_booking) == Stage.OUT


def test_one_sheet_that_breaks_holds_up_no_other(sent, monkeypatch, now, teodor, caplog):
    broken = arriving.keep_sheet(**sent())
    arriving.keep_sheet(**sent(by=teodor))
    judge = rounds.judge_sheet

    def judge_but_one(*, sheet, **more):
        if sheet == broken:
            raise ZeroDivisionError
        return judge(sheet=sheet, **more)

    monkeypatch.setattr(rounds, "judge_sheet", judge_but_one)

    assert rounds.see_to_sheets(at=now + timedelta(minutes=2)) == 1
    assert str(broken.key) in caplog.text


def test_a_changed_sheet_another_member_or_another_kind_under_the_same_key_is_refused(sent, teodor):
    first = sent()
    arriving.keep_and_judge(**first)

    for other in (sent(by=teodor), sent(CheckKind.RETURN), first | {"fields": {"signed_name": "X"}}):
        with pytest.raises(KeyOfAnother):
            arriving.keep_and_judge(**(other | {"key": first["key"]}))
    assert SentSheet.objects.count() == 1


# Sheets that wait for another


def test_a_return_before_its_pickup_waits_and_is_recorded_once_that_has_come(sent, agreed_booking, now):
    back = arriving.keep_and_judge(**(sent(CheckKind.RETURN) | {"signed": Signed(at=now)}))
    assert (back.state, back.waits) == (SheetState.KEPT, True)
    assert "recorded by itself" in back.answer["said"]["words"]

    arriving.keep_and_judge(**sent())
    rounds.see_to_sheets(at=now + timedelta(minutes=1))

    back.refresh_from_db()
    assert (back.state, back.is_open, stage_of(agreed_booking)) == (SheetState.RECORDED, False, Stage.BACK)
    assert back.answer["said"]["state"] == "kept"  # what the phone was told stays
    assert not Message.objects.filter(key__startswith="sheet-kept").exists()


def test_where_the_other_does_not_come_the_coordinators_hear_of_it_once(sent, now, perpetua):
    back = arriving.keep_and_judge(**sent(CheckKind.RETURN))

    for minutes in (5, 31, 32):
        rounds.see_to_sheets(at=now + timedelta(minutes=minutes))

    assert Message.objects.filter(key=f"sheet-kept:{back.key}:{perpetua.pk}").count() == 1


def test_a_sheet_sent_back_and_never_mended_is_kept_after_two_hours_and_told(sent, now, perpetua, agreed_booking):
    wrong = arriving.keep_and_judge(**sent(errors={"p1-count": "Cloths: give a number."}))
    assert wrong.state == SheetState.WRONG

    for hours in (1, 3, 4):
        rounds.see_to_sheets(at=now + timedelta(hours=hours))

    wrong.refresh_from_db()
    assert (wrong.state, wrong.is_open) == (SheetState.KEPT, True)
    assert "Cloths: give a number." in Message.objects.get(key=f"sheet-kept:{wrong.key}:{perpetua.pk}").body


# What coordinators do


@pytest.fixture
def called_off(sent, agreed_booking, sunniva, now):
    """A sheet of a booking that was called off while it was signed."""
    bookings.call_off(booking=agreed_booking, reason="", by=sunniva, at=now, revision=agreed_booking.revision)
    return arriving.keep_and_judge(**sent())


def test_a_coordinator_deals_with_a_kept_sheet_and_says_how(called_off, perpetua, sunniva, now):
    with pytest.raises(OnlyCoordinators):
        keeping.deal_with_sheet(sheet=called_off, note="Fine", by=sunniva, at=now)
    with pytest.raises(NothingSaid):
        keeping.deal_with_sheet(sheet=called_off, note="  ", by=perpetua, at=now)

    keeping.deal_with_sheet(sheet=called_off, note="Rang: the kit never left.", by=perpetua, at=now)
    keeping.deal_with_sheet(sheet=called_off, note="Twice", by=perpetua, at=now)

    called_off.refresh_from_db()
    assert (called_off.dealt_by, called_off.dealt_note, called_off.is_open) == (
        perpetua,
        "Rang: the kit never left.",
        False,
    )
    assert not SentSheet.objects.loud().exists()


def test_a_kept_sheet_is_recorded_once_what_was_in_its_way_is_gone(called_off, perpetua, now, agreed_booking):
    with pytest.raises(StillInTheWay):
        keeping.take_up_again(sheet=called_off, by=perpetua, at=now)
    agreed_booking.refresh_from_db()
    agreed_booking.stage = Stage.AGREED
    agreed_booking.save()

    keeping.take_up_again(sheet=called_off, by=perpetua, at=now)

    called_off.refresh_from_db()
    assert (called_off.state, stage_of(agreed_booking)) == (SheetState.RECORDED, Stage.OUT)


# Photos


@pytest.fixture
def keep(agreed_booking, sunniva, now):
    def keep(content, key, **changes):
        asked = {"booking": agreed_booking, "upload": upload(content), "key": key, "by": sunniva, "at": now}
        return arriving.keep_phones_photo(**(asked | changes))

    return keep


def test_a_photo_under_its_key_is_one_photo_and_no_other_takes_its_place(keep, teodor):
    key = uuid.uuid4()
    first = keep(picture(), key)

    assert keep(picture(), key) == first
    for changed in ({"content": picture(size=(900, 900))}, {"content": picture(), "by": teodor}):
        with pytest.raises(PhotoKeyTaken):
            keep(**({"key": key} | changed))
    assert Photo.objects.count() == 1


def test_a_photo_that_comes_after_the_kit_is_back_joins_the_line_that_names_it(
    keep, sent, cloths, lead, agreed_booking, perpetua, now
):
    key, alias, never = uuid.uuid4(), uuid.uuid4(), uuid.uuid4()
    arriving.keep_and_judge(**sent(photo_keys={str(cloths.pk): str(key), str(lead.pk): str(alias)}))
    bookings.mark_back(booking=agreed_booking, by=perpetua, at=now, today=now.date())
    agreed_booking.refresh_from_db()

    late = keep(picture(), key)
    same = keep(picture(), alias)

    lines = HandoverCheck.objects.get().lines
    assert same == late
    assert lines.get(part=cloths).photo == lines.get(part=lead).photo == late
    with pytest.raises(PhotoNotWanted):
        keep(picture(size=(500, 400)), never)


@pytest.mark.one_engine
def test_forty_photos_of_twelve_megabytes_are_kept_small_and_a_heavier_one_is_refused_in_words(
    keep, settings, agreed_booking
):
    whole = picture(size=(640, 480))
    padding = b"\x00" * (12_000_000 - len(whole))

    for number in range(40):
        keep(whole + padding + number.to_bytes(2, "big"), uuid.uuid4())

    assert Photo.objects.count() == 40
    files = list(settings.MEDIA_ROOT.rglob("*.jpg"))
    assert len(files) == 40
    assert sum(file.stat().st_size for file in files) < 1_000_000
    with pytest.raises(checks.PhotoTooHeavy, match="up to 15 MB"):
        keep(whole + b"\x00" * 15_000_000, uuid.uuid4())
