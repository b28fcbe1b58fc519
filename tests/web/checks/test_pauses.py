"""A check put down half way, and carried on by whoever may do it."""

import pytest
from django.urls import reverse

from kitshare.checks.models import HandoverCheck
from kitshare.checks.pausing import MOST_LETTERS
from kitshare.checks.sent_models import PausedSheet
from tests.checks.sheets import picture, upload

pytestmark = pytest.mark.django_db

PHONE = {"X-Kitshare-Phone": "1"}


@pytest.fixture
def pause_address(agreed_booking):
    return reverse("checks:pause", args=["pickup", agreed_booking.pk])


@pytest.fixture
def begun(filled, guard, lead, cloths, other):
    """Three of five looked at, one of them not all right; nobody signed."""

    def begun(**changes):
        bare = {f"p{guard.pk}-seen": "", f"p{lead.pk}-seen": "", "signed_name": "", "note": "Rain coming"}
        return filled(**bare, **other(cloths, "worn", count="11", note="One at home"), **changes)

    return begun


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_another_member_at_another_phone_carries_on_where_the_first_left_off(
    signed_in, sunniva, perpetua, pause_address, pickup_address, begun, cloths, guard
):
    answer = signed_in(sunniva).post(pause_address, begun(), headers=PHONE)
    assert answer.json()["words"].startswith("Kept at 09:30, 3 of 5 looked at.")

    offered = words(signed_in(perpetua).get(pickup_address))
    pause = PausedSheet.objects.get()
    assert "Sunniva Okparadine began at Wed 1 Sep, 09:30: 3 of 5 looked at." in offered
    assert f'href="?carry_on={pause.pk}"' in offered
    page = words(signed_in(perpetua).get(f"{pickup_address}?carry_on={pause.pk}"))

    assert "3 of 5 looked at" in page
    assert 'value="One at home"' in page
    assert 'value="11"' in page
    assert "Rain coming" in page
    assert "field-wrong" not in page
    assert "carried on here" in page
    assert "Sunniva" not in page.split("<form class=")[1].split("Sign</h2>")[1]
    assert PausedSheet.objects.count() == 1


def test_whoever_began_is_offered_their_own_and_keeps_only_the_newest(
    signed_in, sunniva, pause_address, pickup_address, begun, guard
):
    browser = signed_in(sunniva)
    browser.post(pause_address, begun(), headers=PHONE)
    browser.post(pause_address, begun() | {f"p{guard.pk}-seen": "all"}, headers=PHONE)

    assert "You began at Wed 1 Sep, 09:30: 4 of 5 looked at." in words(browser.get(pickup_address))
    assert PausedSheet.objects.count() == 1


def test_without_script_the_button_keeps_it_with_its_photos_and_says_so(
    signed_in, sunniva, pause_address, pickup_address, begun, lead, agreed_booking
):
    browser = signed_in(sunniva)

    answer = browser.post(pause_address, begun(**{f"p{lead.pk}-photo": upload(picture())}), follow=True)

    assert "Others who may do this check can carry on." in words(answer)
    pause = PausedSheet.objects.get()
    page = words(browser.get(f"{pickup_address}?carry_on={pause.pk}"))
    assert f'name="p{lead.pk}-photo_key"' in page


def test_a_check_that_is_made_clears_what_was_begun(signed_in, sunniva, pause_address, picked_up, begun):
    signed_in(sunniva).post(pause_address, begun(), headers=PHONE)

    picked_up()

    assert HandoverCheck.objects.exists()
    assert not PausedSheet.objects.exists()


@pytest.mark.parametrize("number", ["", "0", "999999999999999999999999", "x", "1; drop"])
def test_a_pause_of_nobody_is_a_fresh_sheet(number, signed_in, sunniva, pickup_address):
    answer = signed_in(sunniva).get(f"{pickup_address}?carry_on={number}")

    assert answer.status_code == 200
    assert "0 of 5 looked at" in words(answer)


def test_more_than_a_sheet_holds_is_refused_in_words(signed_in, sunniva, pause_address, begun):
    answer = signed_in(sunniva).post(pause_address, begun() | {"note": "x" * MOST_LETTERS}, headers=PHONE)

    assert (answer.status_code, answer.json()["error"]) == (422, "This is more than a sheet holds, so it was not kept.")
    assert not PausedSheet.objects.exists()


def test_no_other_village_leaves_or_takes_a_pause(signed_in, leilani, pause_address, begun, agreed_booking):
    assert signed_in(leilani).post(pause_address, begun(), headers=PHONE).status_code == 403
    assert signed_in(leilani).post(pause_address, begun()).status_code == 404
    assert signed_in(leilani).post(f"/checks/pause/nothing/{agreed_booking.pk}/", begun()).status_code == 404
    assert not PausedSheet.objects.exists()
