"""What a phone sends by itself, and what it is told: once, by its owner, and nothing lost."""

import uuid
from datetime import timedelta

import pytest
from django.db import OperationalError
from django.test import Client
from django.urls import reverse

from kitshare.bookings import actions as bookings
from kitshare.bookings import briefing
from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck, Outcome, Photo
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.kits.models import Part
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.rules.checklists import PartKind, Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from tests.checks.sheets import picture, upload

pytestmark = pytest.mark.django_db

PHONE = {"X-Kitshare-Phone": "1"}


@pytest.fixture
def send(signed_in, sunniva, pickup_address, filled, now, agreed_booking):
    """Send a sheet as a phone does: signed two hours ago where there was no signal, unless told otherwise."""
    agreed_booking.asked_at = now - timedelta(days=3)
    agreed_booking.save()

    def send(address=pickup_address, *, by=sunniva, headers=None, **changes):
        waited = {
            "made_at": (now - timedelta(hours=2)).isoformat(),
            "sent_at": now.isoformat(),
            "deed": "finish",
        }
        sheet = filled(**(waited | changes))
        return signed_in(by).post(address, sheet, headers=PHONE | (headers or {}))

    return send


def stage_of(booking):
    booking.refresh_from_db()
    return booking.stage


def test_a_sheet_from_a_phone_becomes_the_check_of_the_moment_at_which_it_was_signed(send, agreed_booking, now):
    answer = send()

    check = HandoverCheck.objects.get()
    assert (answer.status_code, answer.json()) == (
        200,
        {
            "state": "received",
            "at": now.isoformat(),
            "words": "Received at 09:30.",
            "address": reverse("checks:show", args=[check.pk]),
        },
    )
    assert (check.done_at, check.written_at, check.in_spite) == (now - timedelta(hours=2), now, "")
    assert stage_of(agreed_booking) == Stage.OUT
    assert "Signed on a phone at Wed 1 Sep, 07:30, received now." in Entry.objects.get(deed="pickup_checked").text


def test_the_same_again_gets_the_first_answer_word_for_word_whatever_happened_since(
    send, monkeypatch, now, agreed_booking, sunniva, perpetua
):
    sheet = {"key": str(uuid.uuid4())}
    first = send(**sheet)
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(hours=5))
    bookings.mark_back(booking=agreed_booking, by=perpetua, at=now, today=now.date())

    again = send(**sheet, sent_at=(now + timedelta(hours=5)).isoformat())

    assert (again.status_code, again.content) == (first.status_code, first.content)
    assert HandoverCheck.objects.count() == SentSheet.objects.count() == 1


def test_a_changed_sheet_under_an_old_key_is_refused_and_what_came_first_stands(send):
    key = str(uuid.uuid4())
    send(key=key)

    answer = send(key=key, signed_name="Somebody Else")

    assert (answer.status_code, answer.json()["state"]) == (422, "changed")
    assert HandoverCheck.objects.get().signed_name == "Sunniva Okparadine"


@pytest.mark.parametrize("ahead", [timedelta(days=730), -timedelta(days=730), timedelta(minutes=4)])
def test_a_clock_two_years_off_changes_nothing_but_is_said(ahead, send, now, signed_in, sunniva):
    made, sent = now - timedelta(minutes=40) + ahead, now + ahead

    send(made_at=made.isoformat(), sent_at=sent.isoformat())

    sheet = SentSheet.objects.get()
    assert HandoverCheck.objects.get().done_at == now - timedelta(minutes=40)
    assert sheet.clock_ahead == ahead.total_seconds()
    page = signed_in(sunniva).get(reverse("checks:sent", args=[sheet.pk])).content.decode()
    assert ("The phone’s clock was 730 days off" in page) == (abs(ahead) > timedelta(minutes=10))


@pytest.mark.parametrize(
    ("made", "sent"),
    [
        ("not a moment", "neither"),
        ("9999-12-31T23:59:59+00:00", "0001-01-01T00:00:00-23:59"),
        ("2027-13-45T99:99:99Z", "2027-09-01T09:30:00Z"),
        ("0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59"),
        ("2027-09-01T09:30:00Z", "2027-09-01T08:30:00Z"),
    ],
)
def test_moments_that_make_no_sense_are_no_breakage(made, sent, send, agreed_booking, now):
    answer = send(made_at=made, sent_at=sent)

    assert answer.status_code == 200
    assert agreed_booking.asked_at <= HandoverCheck.objects.get().done_at <= now


def test_what_cannot_be_so_is_said_by_the_field_and_may_come_mended_under_the_same_key(
    send, other, cloths, agreed_booking
):
    key = str(uuid.uuid4())
    first = send(key=key, **other(cloths, "sound", count="0"))
    sheet = SentSheet.objects.get()
    assert (first.status_code, sheet.state) == (422, SheetState.WRONG)
    assert first.json() == {
        "state": "wrong",
        "errors": {f"p{cloths.pk}-condition": "Cloths: if none is there, choose missing."},
    }

    mended = send(key=key, **other(cloths, "missing", count="0"))

    sheet.refresh_from_db()
    assert (mended.status_code, sheet.state) == (200, SheetState.RECORDED)
    assert sheet.body["earlier"][0][f"p{cloths.pk}-condition"] == "sound"
    assert stage_of(agreed_booking) == Stage.OUT


def test_a_part_that_was_passed_over_is_asked_for(send, guard, agreed_booking):
    answer = send(**{f"p{guard.pk}-seen": ""})

    assert answer.json()["errors"] == {f"p{guard.pk}-seen": "Feed guard: not looked at yet."}
    assert stage_of(agreed_booking) == Stage.AGREED


# The list changed meanwhile


def test_parts_that_are_gone_or_new_are_said_and_nothing_of_the_sheet_is_lost(
    send, lead, mill, agreed_booking, other, filled, signed_in, sunniva
):
    lead.retired_on = "2027-08-31"
    lead.save()
    hopper = Part.objects.create(machine=mill, name="Hopper", kind=PartKind.ORDINARY, position=9)

    answer = send(**other(lead, "worn", note="Frayed"), list_version="of yesterday")

    said = answer.json()
    assert said["state"] == "received"
    assert said["differences"] == [
        "Mill lead is not on the list any more. What you said of it is kept with your sheet.",
        "Hopper is new on the list. You could not see that, so it stands as not looked at.",
    ]
    check, sheet = HandoverCheck.objects.get(), SentSheet.objects.get()
    assert (check.lines.count(), list(check.not_seen.all()), check.in_spite) == (4, [hopper], "")
    assert sheet.body["fields"][f"p{lead.pk}-note"] == "Frayed"
    back = signed_in(sunniva).get(reverse("checks:return", args=[agreed_booking.pk])).content.decode()
    assert f"p{hopper.pk}-seen" in back


def test_a_new_guard_that_nobody_saw_makes_it_a_handover_in_spite(send, mill, agreed_booking, perpetua):
    Part.objects.create(machine=mill, name="Belt guard", kind=PartKind.GUARD, position=9)

    answer = send(list_version="of yesterday")

    assert answer.json()["in_spite"] == ["Belt guard: nobody looked at it."]
    assert stage_of(agreed_booking) == Stage.OUT
    assert Message.objects.filter(key__startswith="out-in-spite:", member_key=perpetua.pk).exists()


# Two people at one kit


def test_the_second_of_two_checks_is_kept_beside_the_first_and_what_it_saw_worse_is_reported_once(
    send, other, cloths, lead, drive_pin, perpetua, teodor
):
    send(**other(lead, "worn"))
    cases = other(cloths, "sound", count="11") | other(drive_pin, "missing") | {"signed_name": "Teodor Haskerby"}

    second = send(by=teodor, in_spite="1", **cases)
    third = send(by=perpetua, in_spite="1", **(cases | {"signed_name": "Perpetua Quillstone"}))

    check = HandoverCheck.objects.get()
    assert second.status_code == 200
    assert second.json()["state"] == "kept"
    assert second.json()["address"] == reverse("checks:show", args=[check.pk])
    assert second.json()["differences"] == [
        "Drive pin: Sunniva Okparadine saw “sound”, the second “missing”. A fault is reported.",
        "Mill lead: Sunniva Okparadine saw “worn”, the second “sound”.",
        "Cloths: Sunniva Okparadine saw “12 of 12, sound”, the second “11 of 12, sound”. A fault is reported.",
    ]
    assert "A fault is reported." not in " ".join(third.json()["differences"])
    assert Fault.objects.count() == 2
    assert SentSheet.objects.filter(state=SheetState.MERGED, recorded_as=check).count() == 2
    assert Message.objects.filter(key__startswith="sheet-differs:").exists()


def test_two_checks_that_agree_tell_nobody(send, teodor):
    send()

    answer = send(by=teodor, signed_name="Teodor Haskerby")

    assert answer.json()["differences"] == []
    assert not Message.objects.filter(key__startswith="sheet-").exists()
    assert not SentSheet.objects.loud().exists()


# The gates on arrival


def test_a_fault_reported_meanwhile_makes_it_a_handover_in_spite_and_the_coordinators_hear_of_it_first(
    send, mill, teodor, agreed_booking, now, perpetua, other, cloths
):
    upkeep.report_fault(machine=mill, part=None, note="Blade nicked", severity=Severity.STOPS_USE, by=teodor, at=now)
    before = set(Message.objects.values_list("pk", flat=True))

    answer = send(**other(cloths, "sound", count="11"))

    check = HandoverCheck.objects.get()
    assert answer.json()["state"] == "received"
    assert (check.outcome, stage_of(agreed_booking)) == (Outcome.HANDED_OVER, Stage.OUT)
    assert check.in_spite == "Heron mill: Blade nicked."
    told = Message.objects.exclude(pk__in=before).order_by("due_at", "pk")
    assert told[0].key.startswith("out-in-spite:")
    assert "Blade nicked" in told[0].body
    assert Fault.objects.count() == 2


def test_a_vital_part_missing_goes_out_only_where_somebody_went_on_in_spite_of_it(
    send, other, drive_pin, agreed_booking, perpetua
):
    refused = send(**other(drive_pin, "missing"))
    assert refused.json() == {
        "state": "wrong",
        "errors": {f"p{drive_pin.pk}-condition": "Drive pin is missing."},
        "stops": ["Drive pin is missing."],
    }
    assert stage_of(agreed_booking) == Stage.AGREED

    gone = send(in_spite="1", **other(drive_pin, "missing"))

    assert gone.json()["in_spite"] == ["Drive pin is missing."]
    assert stage_of(agreed_booking) == Stage.OUT
    assert Fault.objects.get().severity == "stops_use"
    assert Message.objects.filter(key__startswith="out-in-spite:", member_key=perpetua.pk).count() == 1


def test_without_a_moment_of_its_own_a_sheet_meets_the_gates_as_ever_whatever_was_ticked(
    send, mill, teodor, now, agreed_booking, other, drive_pin, cloths
):
    stopped = send(made_at=None, **other(drive_pin, "missing"))
    upkeep.report_fault(machine=mill, part=None, note="Nicked", severity=Severity.STOPS_USE, by=teodor, at=now)
    aside = send(made_at=None)

    key = str(uuid.uuid4())
    sheet = {"key": key, "in_spite": "1", f"p{cloths.pk}-seen": None, **other(drive_pin, "missing")}
    ticked = send(made_at=None, **sheet)

    assert (stopped.status_code, aside.status_code, ticked.status_code) == (422, 422, 422)
    assert "Nicked" in aside.json()["errors"][""]
    assert stage_of(agreed_booking) == Stage.AGREED

    gone = send(**sheet)

    assert gone.json()["in_spite"] == ["Heron mill: Nicked. Drive pin is missing."]
    assert stage_of(agreed_booking) == Stage.OUT


def test_where_the_first_answer_was_never_heard_the_next_sending_says_when_and_counts(
    send, mill, teodor, now, agreed_booking
):
    """The first try, with the person still there, gives no moment; what is sent after it does."""
    key = str(uuid.uuid4())
    upkeep.report_fault(machine=mill, part=None, note="Nicked", severity=Severity.STOPS_USE, by=teodor, at=now)
    refused = [send(key=key, made_at=None) for _turn in range(2)]
    assert [answer.status_code for answer in refused] == [422, 422]

    late = [send(key=key) for _turn in range(2)]

    assert [answer.json()["in_spite"] for answer in late] == [["Heron mill: Nicked."]] * 2
    assert SentSheet.objects.count() == HandoverCheck.objects.count() == 1
    assert HandoverCheck.objects.get().done_at == now - timedelta(hours=2)


def test_recorded_at_the_first_try_the_next_sending_gets_that_answer(send, agreed_booking):
    key = str(uuid.uuid4())

    first, again = send(key=key, made_at=None), send(key=key)

    assert (first.status_code, again.content) == (200, first.content)
    assert HandoverCheck.objects.count() == 1


def test_a_busy_site_is_said_as_data_with_when_to_try_again(send, monkeypatch):
    def busy(**_sent):
        raise OperationalError("database is locked")

    monkeypatch.setattr("kitshare.checks.arriving.keep_and_judge", busy)

    answer = send()

    assert (answer.status_code, answer["Retry-After"]) == (503, "2")
    assert "in a moment" in answer.json()["error"]


def test_a_stop_is_reported_though_the_machine_was_set_aside_meanwhile(
    send, mill, teodor, now, other, drive_pin, agreed_booking
):
    upkeep.report_fault(machine=mill, part=None, note="Nicked", severity=Severity.STOPS_USE, by=teodor, at=now)

    answer = send(deed="stop", **other(drive_pin, "missing"))

    assert (answer.json()["state"], answer.json()["stopped"]) == ("received", True)
    assert HandoverCheck.objects.get().outcome == Outcome.STOPPED
    assert Fault.objects.filter(part=drive_pin).exists()


def test_a_sheet_of_a_booking_called_off_meanwhile_is_kept_and_the_coordinators_are_told(
    send, agreed_booking, sunniva, perpetua, now, signed_in
):
    bookings.call_off(booking=agreed_booking, reason="Rain", by=sunniva, at=now, revision=agreed_booking.revision)

    answer = send()

    sheet = SentSheet.objects.get()
    assert (answer.status_code, answer.json()["state"], sheet.state) == (200, "kept", SheetState.KEPT)
    assert "called off" in answer.json()["words"]
    assert answer.json()["address"] == reverse("checks:sent", args=[sheet.pk])
    assert Message.objects.filter(key=f"sheet-kept:{sheet.key}:{perpetua.pk}").count() == 1
    page = signed_in(sunniva).get(answer.json()["address"]).content.decode()
    assert "called off" in page
    assert "Settle it" not in page
    assert "Settle it" in signed_in(perpetua).get(answer.json()["address"]).content.decode()


def test_a_return_that_comes_before_its_pickup_is_recorded_by_itself_once_that_came(
    send, return_address, now, agreed_booking
):
    kept = send(return_address, made_at=(now - timedelta(hours=1)).isoformat())
    assert kept.json()["state"] == "kept"

    send()

    assert SentSheet.objects.get(kind="return").waits


# Whose phone it is


def test_nobody_signed_in_is_told_where_to_and_nothing_is_kept(client, pickup_address, filled):
    answer = client.post(pickup_address, filled(), headers=PHONE)

    assert answer.status_code == 401
    assert answer.json()["sign_in"] == f"{reverse('people:sign_in')}?next={pickup_address}"
    assert not SentSheet.objects.exists()


def test_what_one_member_kept_is_not_taken_while_another_is_signed_in(
    send, perpetua, sunniva, agreed_booking, signed_in
):
    headers = {"X-Kitshare-Member": str(sunniva.pk)}
    sheet = send(by=perpetua, headers=headers)
    address = reverse("checks:keep_photo", args=[agreed_booking.pk])
    photo = signed_in(perpetua).post(address, {"photo": upload(picture())}, headers=PHONE | headers)
    pause = signed_in(perpetua).post(
        reverse("checks:pause", args=["pickup", agreed_booking.pk]), headers=PHONE | headers
    )

    for answer in (sheet, photo, pause):
        assert (answer.status_code, answer.json()["wrong_member"]) == (409, True)
        assert "Perpetua Quillstone is signed in" in answer.json()["error"]
    assert not SentSheet.objects.exists()
    assert not Photo.objects.exists()


def test_another_village_and_a_booking_of_nobody_are_answered_alike(send, leilani, pickup_address):
    answers = [send(by=leilani), send(reverse("checks:pickup", args=[999_999]), by=leilani)]

    assert [answer.status_code for answer in answers] == [403, 403]
    assert answers[0].json() == answers[1].json()
    assert not SentSheet.objects.exists()


def test_a_replayed_key_takes_nothing_for_another_person_or_another_booking(
    send, teodor, return_address, agreed_booking
):
    key = str(uuid.uuid4())
    send(key=key)

    others = [send(key=key, by=teodor), send(return_address, key=key)]

    assert [answer.status_code for answer in others] == [422, 422]
    assert {answer.json()["state"] for answer in others} == {"changed"}
    assert SentSheet.objects.count() == HandoverCheck.objects.count() == 1
    assert stage_of(agreed_booking) == Stage.OUT


@pytest.mark.parametrize("key", ["", "forged", "00000000-0000-0000-0000-00000000000g", "\x00"])
def test_a_forged_key_is_refused_in_words(key, send):
    answer = send(key=key)

    assert (answer.status_code, answer.json()["state"]) == (422, "wrong")
    assert not HandoverCheck.objects.exists()


def test_what_no_database_can_hold_is_kept_as_far_as_it_can_be(send, lead, other):
    answer = send(note="a\x00b", **other(lead, "worn"))

    assert answer.status_code == 422
    assert SentSheet.objects.get().body["fields"]["note"] == "a\N{REPLACEMENT CHARACTER}b"


def test_a_page_kept_for_long_is_given_a_new_token(sunniva, pickup_address, filled):
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(sunniva)
    first = browser.post(pickup_address, filled(csrfmiddlewaretoken="of last week"), headers=PHONE)
    assert first.status_code == 403

    token = first.json()["token"]
    again = browser.post(pickup_address, filled(), headers=PHONE | {"X-CSRFToken": token})

    assert again.status_code == 200


def test_a_village_that_was_not_briefed_is_out_in_spite_of_it_once_it_signed_without_signal(
    send, perpetua, agreed_booking, now
):
    briefing.change_briefing(own_words="", holds_pickup=True, by=perpetua, at=now)

    asked = send(made_at=None)
    gone = send()

    assert "has not confirmed the briefing" in asked.json()["errors"][""]
    assert gone.json()["in_spite"] == ["Sunniva Okparadine had not confirmed the briefing of this season."]
    assert stage_of(agreed_booking) == Stage.OUT
