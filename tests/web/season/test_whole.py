"""The whole season as a stack: weeks over squeezed to their sum, this week tall, later weeks with what is in them."""

import re
from datetime import date, timedelta

import pytest
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing
from kitshare.bookings.models import Booking, ClosedKind, Season, Stage
from kitshare.kits.models import Machine, MachineKind
from kitshare.people.holidays_shown import show_holidays

pytestmark = pytest.mark.django_db
ADDRESS = "/season/whole/"


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


def layers(answer) -> list[tuple[str, str, str]]:
    """Each week: its place, how it is called, its sum."""
    found = re.findall(
        r'<li class="layer layer-(\w+)[^"]*">.*?<a href[^>]*>([^<]+)</a></span>\s*<span class="layer-sum">([^<]+)<',
        answer.content.decode(),
        re.S,
    )
    return [(place, week, words.replace("\N{NO-BREAK SPACE}", " ")) for place, week, words in found]


def test_each_week_is_a_layer_and_free_weeks_to_come_lie_together(
    signed_in, perpetua, sorrelhythe, sunniva, mill, book
):
    book(sorrelhythe, sunniva, [mill], 3)
    book(sorrelhythe, sunniva, [mill], 18)
    Booking.objects.filter(out_on=date(2027, 9, 3)).update(
        out_on=date(2027, 8, 20), back_on=date(2027, 8, 22), stage=Stage.CLOSED
    )

    page = signed_in(perpetua).get(ADDRESS)

    # 300 kg each, at 0.55 litres a kilogram
    assert layers(page) == [
        ("over", "9 Aug", "nothing goes out"),
        ("over", "16 Aug", "1 outing, about 165 litres"),
        ("over", "23 Aug", "nothing goes out"),
        ("now", "This week", "nothing goes out"),
        ("later", "6 Sep", "free"),
        ("later", "13 Sep", "1 outing, about 165 litres"),
        ("later", "20 Sep – 5 Dec", "free"),
    ]
    assertContains(page, "2 outings, about 330\N{NO-BREAK SPACE}litres of juice.")
    assertContains(page, "Sat 18 Sep – Mon 20 Sep: Heron mill")


def test_what_is_out_lies_in_this_week_until_it_is_back(signed_in, perpetua, agreed_booking, now, monkeypatch):
    bookings.mark_out(booking=agreed_booking, by=perpetua, at=now)
    monkeypatch.setattr(timezone, "now", lambda: now + timedelta(days=14))

    page = signed_in(perpetua).get(ADDRESS)

    # 20 crates of 16 kg, at 0.55 litres a kilogram
    assert ("now", "This week", "1 outing, about 176 litres") in layers(page)
    assertContains(page, '<span class="word word-stop">late</span>')


def test_closed_days_and_holidays_stand_in_their_weeks(signed_in, sunniva, perpetua, mill, season, scheme, now, today):
    closing.close_days(
        kind=ClosedKind.SERVICE,
        depot=None,
        machines=[mill],
        first_day=date(2027, 9, 20),
        last_day=date(2027, 9, 28),
        reason="A new belt",
        by=perpetua,
        at=now,
        today=today,
    )
    show_holidays(scheme=scheme, country="US", part="", by=perpetua, at=now)

    page = signed_in(sunniva).get(ADDRESS)

    assertContains(page, "Mon 20 Sep to Tue 28 Sep: A new belt", count=2)
    assertContains(page, "Mon 6 Sep: Labor Day")
    assert ("later", "20 Sep", "nothing asked yet") in layers(page)


def test_a_choice_is_kept_and_shows_only_what_fits(
    signed_in, perpetua, sorrelhythe, fennerlow, sunniva, leilani, mill, otter_mill, book
):
    book(sorrelhythe, sunniva, [mill], 11)
    book(fennerlow, leilani, [otter_mill], 11)
    client = signed_in(perpetua)

    by_machine = client.get(f"{ADDRESS}?machine={mill.pk}")
    by_village = client.get(f"{ADDRESS}?village={fennerlow.pk}&stage=asked")

    assertContains(by_machine, "Only:")
    assertContains(by_machine, f"/season/?machine={mill.pk}&amp;month=2027-09")
    assertNotContains(by_machine, "Fennerlow")
    assertContains(by_village, "Fennerlow")
    assertNotContains(by_village, "Sorrelhythe")
    assertContains(client.get(f"{ADDRESS}?stage=out"), "nothing that fits the choice")


def test_an_earlier_season_can_be_turned_back_to(signed_in, perpetua, season, mill):
    earlier = Season.objects.create(name="Autumn 2026", opens_on=date(2026, 9, 1), closes_on=date(2026, 10, 31))
    client = signed_in(perpetua)

    assertContains(client.get(ADDRESS), f'<a rel="prev" href="{ADDRESS}?season={earlier.pk}">Autumn 2026</a>')
    page = client.get(f"{ADDRESS}?season={earlier.pk}")

    assertContains(page, "<h1>Autumn 2026</h1>")
    assertContains(page, f"/season/filters/?back=whole&amp;season={earlier.pk}")
    assert {place for place, _week, _sum in layers(page)} == {"over"}


@pytest.mark.parametrize("asked", ["0", "x", "9" * 18, "9" * 40, "-1"])
def test_a_season_that_is_not_there_is_the_one_that_is_on(signed_in, perpetua, season, asked):
    assertContains(signed_in(perpetua).get(f"{ADDRESS}?season={asked}"), "<h1>Autumn 2027</h1>")


def test_without_a_season_the_page_says_what_to_do(signed_in, perpetua):
    assertContains(signed_in(perpetua).get(ADDRESS), "No season has been set yet.")


def test_a_borrower_opens_and_moves_only_their_own(signed_in, sunniva, fennerlow, leilani, mill, book):
    booking = book(fennerlow, leilani, [mill], 11)

    page = signed_in(sunniva).get(ADDRESS)

    assertContains(page, "Fennerlow")
    assertNotContains(page, f"/{booking.pk}/")


@pytest.mark.parametrize("whose", ["perpetua", "sunniva"])
@pytest.mark.parametrize("many", [1, 12])
def test_the_page_costs_the_same_however_much_there_is(
    whose, many, request, client, heron, sorrelhythe, sunniva, book, perpetua, now, today, django_assert_num_queries
):
    for number in range(many):
        machine = Machine.objects.create(kit=heron, name=f"Mill {number}", kind=MachineKind.MILL)
        book(sorrelhythe, sunniva, [machine], 2 + number)
        closing.close_days(
            kind=ClosedKind.SERVICE,
            depot=None,
            machines=[machine],
            first_day=date(2027, 10, 2 + number),
            last_day=date(2027, 10, 2 + number),
            reason="A new belt",
            by=perpetua,
            at=now,
            today=today,
        )
    client.force_login(request.getfixturevalue(whose))

    # session, member, scheme; the seasons, the bookings, their machines, the closed spells, theirs
    with django_assert_num_queries(8):
        client.get(ADDRESS)
