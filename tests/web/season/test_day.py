"""The page of one day: where every machine is, in words; what goes out and what comes back."""

import re
from datetime import date, timedelta

import pytest
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing
from kitshare.bookings.models import ClosedKind
from kitshare.kits.models import Machine, MachineKind
from kitshare.rules.checklists import Severity
from kitshare.upkeep.models import Fault
from kitshare.web.season.views import asked_day

pytestmark = pytest.mark.django_db
ADDRESS = "/season/day/"


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


def places(answer) -> list[tuple[str, str]]:
    """Machines and the word for where they are."""
    return re.findall(
        r'<div class="row-head"><strong>([^<]+)</strong><span class="word [^"]+">([^<]+)<', answer.content.decode()
    )


def test_each_machine_is_somewhere_and_a_kit_that_is_together_is_one_line(
    signed_in, perpetua, sorrelhythe, sunniva, mill, press, otter_mill, book
):
    book(sorrelhythe, sunniva, [mill, press], 11)
    client = signed_in(perpetua)

    days = {number: places(client.get(f"{ADDRESS}?day=2027-09-{number}")) for number in (10, 11, 13, 14)}

    both = "Heron mill, Heron press"
    assert days[10] == [(both, "free"), ("Otter mill", "free")]
    assert days[11] == [(both, "asked"), ("Otter mill", "free")]
    assert days[13] == [(both, "care"), ("Otter mill", "free")]
    assert days[14] == days[10]


def test_what_goes_out_and_what_comes_back_that_morning_is_listed(
    signed_in, perpetua, sorrelhythe, fennerlow, sunniva, leilani, mill, otter_mill, book
):
    book(sorrelhythe, sunniva, [mill], 11)
    book(fennerlow, leilani, [otter_mill], 13)

    page = signed_in(perpetua).get(f"{ADDRESS}?day=2027-09-13")

    assertContains(page, "Out Sat 11 Sep, back by the morning of Mon 13 Sep")
    assertContains(page, "Out Mon 13 Sep, back by the morning of Wed 15 Sep")
    assertContains(page, "Cleaning and drying after Sorrelhythe.")


def test_a_closed_machine_says_why(signed_in, sunniva, mill, otter_mill, season, perpetua, now, today):
    closing.close_days(
        kind=ClosedKind.SERVICE,
        depot=None,
        machines=[mill],
        first_day=date(2027, 9, 20),
        last_day=date(2027, 9, 22),
        reason="A new belt",
        by=perpetua,
        at=now,
        today=today,
    )

    page = signed_in(sunniva).get(f"{ADDRESS}?day=2027-09-21")

    assert places(page) == [("Heron mill", "closed"), ("Otter mill", "free")]
    assertContains(page, "away for service: A new belt")


def test_a_machine_set_aside_is_named_even_where_it_is_free(signed_in, perpetua, teodor, mill, press, season, now):
    Fault.objects.create(
        machine=mill, note="Pin lost.", severity=Severity.STOPS_USE, reported_by=teodor, reported_at=now
    )

    page = signed_in(perpetua).get(f"{ADDRESS}?day=2027-09-21")

    assertContains(page, '<span class="word word-stop">set aside</span> Heron mill</p>')
    assertContains(page, f"/bookings/new/?machines={press.pk}&amp;spell=typed&amp;out_on=2027-09-21")


def test_a_machine_that_is_late_is_not_called_free(signed_in, perpetua, agreed_booking, now, monkeypatch):
    bookings.mark_out(booking=agreed_booking, by=perpetua, at=now)
    monkeypatch.setattr(timezone, "now", lambda: now + timedelta(days=8))

    page = signed_in(perpetua).get(ADDRESS)

    assert places(page) == [("Heron mill, Heron press", "late")]
    assertContains(page, "Still with Sorrelhythe, and due back.")


def test_a_village_or_stage_chosen_shows_only_where_its_bookings_are(
    signed_in, perpetua, sorrelhythe, fennerlow, sunniva, leilani, mill, otter_mill, book
):
    book(sorrelhythe, sunniva, [mill], 11)
    book(fennerlow, leilani, [otter_mill], 11)
    client = signed_in(perpetua)

    page = client.get(f"{ADDRESS}?day=2027-09-11&village={fennerlow.pk}&stage=asked")

    assert places(page) == [("Otter mill", "asked")]
    assertNotContains(page, "Sorrelhythe")
    assertContains(page, f'href="/season/day/?day=2027-09-12&amp;village={fennerlow.pk}&amp;stage=asked"')
    assertContains(client.get(f"{ADDRESS}?day=2027-09-11&stage=out"), "Nothing fits the choice on this day.")


def test_outside_the_season_nothing_is_offered(signed_in, perpetua, mill, season):
    page = signed_in(perpetua).get(f"{ADDRESS}?day=2028-02-01")

    assertContains(page, "Outside the season")
    assertNotContains(page, "Book from this day")


def test_a_borrower_opens_only_their_own(signed_in, sunniva, fennerlow, leilani, mill, book):
    booking = book(fennerlow, leilani, [mill], 11)

    page = signed_in(sunniva).get(f"{ADDRESS}?day=2027-09-11")

    assertContains(page, "Fennerlow")
    assertNotContains(page, f"/bookings/{booking.pk}/")


@pytest.mark.parametrize("text", ["", "x", "2027-02-30", "1999-01-01", "9999-12-31", "2027-9-1", "٢٠٢٧-٠٩-٠١"])
def test_an_address_that_names_no_day_shows_today(text, today):
    assert asked_day(text, today) == today


def test_the_last_day_that_can_be_asked_for_opens(signed_in, perpetua, season):
    assert signed_in(perpetua).get(f"{ADDRESS}?day=2999-12-31").status_code == 200


@pytest.mark.parametrize("many", [1, 12])
def test_the_page_costs_the_same_however_much_there_is(
    signed_in, perpetua, heron, sorrelhythe, sunniva, book, many, django_assert_num_queries
):
    for number in range(many):
        machine = Machine.objects.create(kit=heron, name=f"Mill {number}", kind=MachineKind.MILL)
        book(sorrelhythe, sunniva, [machine], 11)
    client = signed_in(perpetua)

    with django_assert_num_queries(6):
        client.get(f"{ADDRESS}?day=2027-09-11")
