"""The relay check as two people do it on one phone, and what the pages show of it."""

import re
import uuid
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from kitshare.bookings import relays
from kitshare.bookings.models import Stage
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome, Photo
from kitshare.checks.sent_models import SentSheet
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from tests.checks.conftest import all_sound, hand_on, on_the_day, pick_up, relay
from tests.checks.sheets import picture, upload

__all__ = ["all_sound", "hand_on", "on_the_day", "pick_up", "relay"]
pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def is_ticked(page: str) -> bool:
    """Whether the page says that it was cleaned down."""
    return "checked" in re.findall(r'<input type="checkbox" name="is_clean"[^>]*>', page)[0]


@pytest.fixture(autouse=True)
def clock(monkeypatch, on_the_day):
    monkeypatch.setattr(timezone, "now", lambda: on_the_day)


@pytest.fixture
def address(relay):
    return reverse("checks:relay", args=[relay.pk])


@pytest.fixture
def sheet(parts):
    def sheet(**changes):
        fields = {f"p{part.pk}-seen": "all" for part in parts}
        fields |= {"key": str(uuid.uuid4()), "note": "", "deed": "finish", "is_clean": "on"}
        fields |= {"signed_name": "Sunniva Okparadine", "taken_name": "Leilani Crabbwater"} | changes
        return {name: value for name, value in fields.items() if value is not None}

    return sheet


@pytest.mark.parametrize("who", ["sunniva", "leilani", "perpetua"])
def test_the_sheet_names_both_villages_the_place_and_every_part_with_how_it_went_out(
    signed_in, request, address, parts, who
):
    page = words(signed_in(request.getfixturevalue(who)).get(address))

    places = [page.index(f'id="id_p{part.pk}-seen"') for part in parts]
    assert places == sorted(places)
    assert page.count("Went out:") == 5
    assert "Sorrelhythe hands on to Fennerlow" in page
    assert "Barn by the standpipe" in page
    assert "Name: hands over for Sorrelhythe" in page
    assert "Name: takes it on for Fennerlow" in page
    assert not is_ticked(page)
    assert "The guard is on before anybody lifts." in page


def test_a_stranger_to_both_villages_finds_no_sheet(signed_in, leilani, fennerlow, address):
    fennerlow.borrowers.remove(leilani)

    assert signed_in(leilani).get(address).status_code == 404


def test_handed_on_the_finished_check_is_shown_to_both(signed_in, sunniva, leilani, relay, address, sheet):
    answer = signed_in(leilani).post(address, sheet())

    check = HandoverCheck.objects.get(kind=CheckKind.RELAY)
    assert (answer.status_code, answer["Location"]) == (302, reverse("checks:show", args=[check.pk]))
    for member, back in ((sunniva, relay.first), (leilani, relay.second)):
        page = words(signed_in(member).get(answer["Location"]))
        assert "<dt>Handed over by</dt><dd>Sunniva Okparadine, Sorrelhythe</dd>" in page
        assert "<dt>Taken on by</dt><dd>Leilani Crabbwater, Fennerlow</dd>" in page
        assert "<dt>Cleaned down</dt><dd>yes</dd>" in page
        assert f'href="{reverse("bookings:show", args=[back.pk])}">Back to the booking' in page
    relay.second.refresh_from_db()
    assert relay.second.stage == Stage.OUT


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"taken_name": ""}, "taken_name", "Whoever takes it on signs too."),
        ({"signed_name": ""}, "signed_name", "Sign with your name."),
        ({"taken_name": "sunniva okparadine"}, "taken_name", "Two people sign:"),
    ],
)
def test_who_did_not_sign_is_asked_by_the_field_and_all_stays_ticked(
    signed_in, sunniva, address, sheet, parts, changes, field, sentence
):
    page = words(signed_in(sunniva).post(address, sheet(**changes)))

    assert sentence in page
    assert f'href="#id_{field}"' in page
    assert page.count('value="all" data-pick="all" checked') == len(parts)
    assert is_ticked(page)
    assert not HandoverCheck.objects.filter(kind=CheckKind.RELAY).exists()


def test_a_missing_guard_stops_it_and_there_are_two_ways_on(signed_in, sunniva, relay, address, sheet, guard, other):
    client = signed_in(sunniva)
    wrong = other(guard, "missing")

    page = words(client.post(address, sheet(**wrong)))
    stopped = client.post(address, sheet(**wrong, deed="stop"))

    assert "The kit does not go out like this" in page
    assert "Otherwise the kit stays with Sorrelhythe." in page
    check = HandoverCheck.objects.get(kind=CheckKind.RELAY)
    assert (stopped.status_code, check.outcome) == (302, Outcome.STOPPED)
    assert Fault.objects.get().part == guard
    assert "it stays with Sorrelhythe" in words(client.get(stopped["Location"]))


def test_a_clean_down_that_is_owed_stands_on_both_bookings(signed_in, sunniva, leilani, relay, address, sheet):
    signed_in(sunniva).post(address, sheet(is_clean=None))

    for member, booking in ((sunniva, relay.first), (leilani, relay.second)):
        page = words(signed_in(member).get(reverse("bookings:show", args=[booking.pk])))
        assert "clean-down owed" in page
        assert "by Sorrelhythe" in page


def test_a_double_tap_is_one_check(signed_in, sunniva, address, sheet):
    sent = sheet()
    answers = [signed_in(sunniva).post(address, sent) for _tap in range(2)]

    assert answers[0]["Location"] == answers[1]["Location"]
    assert HandoverCheck.objects.filter(kind=CheckKind.RELAY).count() == 1


def test_done_the_page_leads_to_the_check_that_was_made(signed_in, sunniva, address, hand_on):
    check = hand_on()

    page = words(signed_in(sunniva).get(address))

    assert "handed this kit on to Fennerlow already" in page
    assert reverse("checks:show", args=[check.pk]) in page


def test_the_pickup_page_of_the_taking_village_leads_to_the_relay(signed_in, leilani, relay, address):
    page = words(signed_in(leilani).get(reverse("checks:pickup", args=[relay.second.pk])))

    assert "Hand over together, by the relay check." in page
    assert f'href="{address}"' in page


def test_a_photo_of_the_handing_village_is_kept_with_the_relay_and_seen_by_both(
    signed_in, sunniva, leilani, relay, address, sheet, drive_pin, other
):
    kept = signed_in(sunniva).post(reverse("checks:keep_photo", args=[relay.second.pk]), {"photo": upload(picture())})
    signed_in(sunniva).post(address, sheet(**other(drive_pin, "worn", photo_key=kept.json()["key"])))

    photo = Photo.objects.get()
    assert HandoverCheck.objects.get(kind=CheckKind.RELAY).lines.get(part=drive_pin).photo == photo
    address = reverse("checks:photo", args=[photo.key])
    pictures = [b"".join(signed_in(member).get(address).streaming_content) for member in (sunniva, leilani)]
    assert pictures[0] == pictures[1] != b""


def test_today_says_that_a_relay_is_due_and_leads_to_the_sheet(signed_in, sunniva, leilani, perpetua, address):
    pages = [words(signed_in(member).get(reverse("home:home"))) for member in (sunniva, leilani, perpetua)]

    for page in pages:
        assert page.count("Sorrelhythe hands on to Fennerlow on Sat 4 Sep at 09:00.") == 1
        assert f'href="{address}"' in page


def test_the_season_says_which_bookings_meet_by_relay(signed_in, perpetua, relay):
    page = words(signed_in(perpetua).get("/season/?month=2027-09"))
    day = words(signed_in(perpetua).get("/season/day/?day=2027-09-04"))

    for shown in (page, day):
        assert "taken on from Sorrelhythe, not at the depot" in shown
        assert "handed on to Fennerlow, not to the depot" in shown


# From a phone


PHONE = {"X-Kitshare-Phone": "1"}


@pytest.fixture
def send(signed_in, sunniva, address, sheet, on_the_day, relay):
    """A relay check signed an hour ago on a phone without signal."""

    def send(by=sunniva, **changes):
        made = {"made_at": (on_the_day - timedelta(hours=1)).isoformat(), "sent_at": on_the_day.isoformat()}
        ends = {"first": str(relay.first.pk), "second": str(relay.second.pk)}
        return signed_in(by).post(address, sheet(**(made | ends | changes)), headers=PHONE)

    return send


def test_a_relay_signed_on_a_phone_hands_the_kit_on_and_a_second_one_stands_beside_it(
    send, leilani, relay, lead, on_the_day, signed_in
):
    photo_key = uuid.uuid4()
    first = send(**{f"p{lead.pk}-photo_key": str(photo_key)})
    second = send(by=leilani)

    check = HandoverCheck.objects.get(kind=CheckKind.RELAY)
    assert (first.json()["state"], second.json()["state"]) == ("received", "kept")
    assert (check.done_at, check.from_booking) == (on_the_day - timedelta(hours=1), relay.first)
    assert stages(relay) == [Stage.BACK, Stage.OUT]
    photo = {"photo": upload(picture()), "key": str(photo_key)}
    late = signed_in(check.by).post(reverse("checks:keep_photo", args=[relay.second.pk]), photo, headers=PHONE)
    assert late.status_code == 200
    assert check.lines.get(part=lead).photo.key == photo_key


def test_a_relay_goes_on_in_spite_of_a_fault_reported_meanwhile(send, relay, mill, teodor, on_the_day):
    upkeep.report_fault(machine=mill, part=None, note="Nicked", severity=Severity.STOPS_USE, by=teodor, at=on_the_day)

    answer = send()

    assert answer.json()["in_spite"] == ["Heron mill: Nicked."]
    assert stages(relay) == [Stage.BACK, Stage.OUT]


def test_the_sheet_of_a_relay_that_was_undone_meanwhile_is_kept(send, relay, perpetua, leilani, on_the_day):
    relays.undo_relay(
        relay=relay,
        period=Period(start=date(2027, 9, 6), end=date(2027, 9, 8)),
        by=perpetua,
        at=on_the_day,
        today=on_the_day.date(),
        revision=relay.second.revision,
    )

    answer = send()

    kept = SentSheet.objects.get()
    assert (answer.status_code, answer.json()["state"]) == (200, "kept")
    assert (kept.booking, kept.from_booking) == (relay.second, relay.first)
    assert "undone meanwhile" in answer.json()["words"]


@pytest.mark.parametrize("end", ["9" * 40, "", "0", "\u0663", "-1"])
def test_a_relay_that_never_was_is_nobodys(end, signed_in, sunniva, sheet):
    answer = signed_in(sunniva).post(
        reverse("checks:relay", args=[999_999]), sheet(first=end, second=end), headers=PHONE
    )

    assert answer.status_code == 403
    assert not SentSheet.objects.exists()


def test_the_taking_village_carries_on_what_the_handing_one_began(signed_in, sunniva, leilani, relay, address, sheet):
    pause = reverse("checks:pause", args=["relay", relay.second.pk])
    kept = signed_in(sunniva).post(pause, sheet(signed_name="", taken_name=""), headers=PHONE)

    page = words(signed_in(leilani).get(address))

    assert kept.status_code == 200
    assert "Sunniva Okparadine began at" in page
    assert "5 of 5 looked at" in page


def stages(relay) -> list[str]:
    for booking in (relay.first, relay.second):
        booking.refresh_from_db()
    return [relay.first.stage, relay.second.stage]
