"""The season page: what it shows, to whom, and that it costs the same however much there is."""

import re
from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

from kitshare.bookings import closing
from kitshare.bookings.models import ClosedKind
from kitshare.kits.models import Machine, MachineKind
from kitshare.people.holidays_shown import show_holidays
from kitshare.rules.checklists import Severity
from kitshare.upkeep.models import Fault
from kitshare.web.season.views import asked_month

pytestmark = pytest.mark.django_db
ADDRESS = "/season/?month=2027-09"


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


def spans(page: str) -> list[tuple[int, str]]:
    return [(int(days), kind) for days, kind in re.findall(r'<td colspan="(\d+)" class="([^"]+)">', page)]


def test_a_booking_stands_in_the_grid_and_in_the_list(signed_in, perpetua, sorrelhythe, sunniva, mill, book):
    book(sorrelhythe, sunniva, [mill], 11)

    page = signed_in(perpetua).get(ADDRESS).content.decode()

    assert '<td colspan="2" class="bar bar-asked">' in page
    assert "Out Sat 11 Sep" in page
    assert "back by the morning of Mon 13 Sep" in page


def test_care_days_and_free_days_fill_the_rest_of_the_month(signed_in, perpetua, sorrelhythe, sunniva, mill, book):
    book(sorrelhythe, sunniva, [mill], 11)

    page = signed_in(perpetua).get(ADDRESS).content.decode()

    assert spans(page) == [
        (1, "span-free day-today"),  # Wed 1 September
        (2, "span-free day-weekday"),
        (2, "span-free day-weekend"),
        (5, "span-free day-weekday"),
        (2, "bar bar-asked"),
        (1, "span-care"),
        (4, "span-free day-weekday"),
        (2, "span-free day-weekend"),
        (5, "span-free day-weekday"),
        (2, "span-free day-weekend"),
        (4, "span-free day-weekday"),
    ]


def test_a_borrower_sees_who_has_it_and_may_open_only_their_own(
    signed_in, sorrelhythe, fennerlow, sunniva, leilani, mill, book
):
    own = book(sorrelhythe, sunniva, [mill], 11)
    other = book(fennerlow, leilani, [mill], 18)

    page = signed_in(sunniva).get(ADDRESS).content.decode()

    assert "Fennerlow" in page
    assert reverse("bookings:show", args=[own.pk]) in page
    assert reverse("bookings:show", args=[other.pk]) not in page


def test_a_booking_of_a_machine_set_aside_is_at_risk(
    signed_in, perpetua, teodor, sorrelhythe, sunniva, mill, press, book, now
):
    book(sorrelhythe, sunniva, [mill, press], 11)
    Fault.objects.create(
        machine=mill, note="Pin lost.", severity=Severity.STOPS_USE, reported_by=teodor, reported_at=now
    )

    page = signed_in(perpetua).get(ADDRESS).content.decode()

    assert '<td colspan="2" rowspan="2" class="bar bar-risk">' in page
    assert "set aside" in page


def test_machines_of_one_kit_with_different_days_have_cells_of_their_own(
    signed_in, perpetua, sorrelhythe, sunniva, mill, press, book
):
    book(sorrelhythe, sunniva, [mill, press], 11)
    book(sorrelhythe, sunniva, [press], 18)

    page = signed_in(perpetua).get(ADDRESS).content.decode()

    assert page.count('<td colspan="2" class="bar bar-asked">') == 3
    assert "rowspan" not in page


def test_a_booking_over_the_end_of_the_month_stands_in_both(signed_in, perpetua, sorrelhythe, sunniva, mill, book):
    book(sorrelhythe, sunniva, [mill], 29, days=4)

    client = signed_in(perpetua)

    assert '<td colspan="2" class="bar bar-asked">' in client.get(ADDRESS).content.decode()
    assert '<td colspan="2" class="bar bar-asked">' in client.get("/season/?month=2027-10").content.decode()


@pytest.mark.parametrize("text", ["", "2027-13", "1999-01", "2027-9", "9999-12", "x", "2027-09-01", "٢٠٢٧-٠٩"])
def test_an_address_that_names_no_month_shows_this_one(text, today):
    assert asked_month(text, today).start == date(2027, 9, 1)


def test_the_last_month_that_can_be_asked_for_opens(signed_in, perpetua, season):
    assert signed_in(perpetua).get("/season/?month=2999-12").status_code == 200


def test_without_machines_the_page_says_what_to_do(signed_in, perpetua):
    assert "There are no machines yet" in signed_in(perpetua).get(ADDRESS).content.decode()


@pytest.mark.parametrize("whose", ["perpetua", "sunniva"])
@pytest.mark.parametrize("many", [1, 12])
def test_the_page_takes_six_queries_however_much_there_is(
    whose, many, request, client, heron, sorrelhythe, sunniva, book, django_assert_num_queries
):
    for number in range(many):
        machine = Machine.objects.create(kit=heron, name=f"Mill {number}", kind=MachineKind.MILL)
        book(sorrelhythe, sunniva, [machine], 2 + number)
    client.force_login(request.getfixturevalue(whose))

    with django_assert_num_queries(6):
        client.get(ADDRESS)


# What is chosen to be shown


def test_a_village_chosen_shows_its_bookings_and_marks_the_days_of_others_as_taken(
    signed_in, perpetua, sorrelhythe, fennerlow, sunniva, leilani, mill, book
):
    book(sorrelhythe, sunniva, [mill], 11)
    other = book(fennerlow, leilani, [mill], 18)

    page = signed_in(perpetua).get(f"{ADDRESS}&village={sorrelhythe.pk}").content.decode()

    assert "Only:" in page
    assert "Out Sat 11 Sep" in page
    assert "Fennerlow" not in page
    assert reverse("bookings:show", args=[other.pk]) not in page
    assert '<td colspan="2" class="bar bar-other">' in page


def test_a_machine_chosen_stands_alone_and_its_bookings_keep_all_their_machines(
    signed_in, perpetua, sorrelhythe, fennerlow, sunniva, leilani, mill, press, book
):
    book(sorrelhythe, sunniva, [mill, press], 11)
    book(fennerlow, leilani, [press], 18)

    page = signed_in(perpetua).get(f"{ADDRESS}&machine={mill.pk}").content.decode()

    assert page.count('<th scope="row">') == 1
    assert "Heron mill, Heron press" in page
    assert "Fennerlow" not in page


def test_a_stage_chosen_shows_no_other(signed_in, perpetua, sorrelhythe, sunniva, mill, book):
    book(sorrelhythe, sunniva, [mill], 11)
    client = signed_in(perpetua)

    assert "Out Sat 11 Sep" in client.get(f"{ADDRESS}&stage=asked").content.decode()
    assert "No booking of this month fits the choice." in client.get(f"{ADDRESS}&stage=agreed").content.decode()


def test_the_choice_is_kept_from_month_to_month_and_from_view_to_view(signed_in, perpetua, mill, season, sorrelhythe):
    chosen = f"machine={mill.pk}&amp;village={sorrelhythe.pk}&amp;stage=asked"

    page = signed_in(perpetua).get(f"{ADDRESS}&{chosen.replace('&amp;', '&')}").content.decode()

    assert f'href="/season/?month=2027-08&amp;{chosen}"' in page
    assert f'href="/season/?month=2027-10&amp;{chosen}"' in page
    assert f'href="/season/day/?{chosen}"' in page
    assert f'href="/season/filters/?back=month&amp;month=2027-09&amp;{chosen}"' in page
    assert '<a href="/season/?month=2027-09">Show everything</a>' in page


@pytest.mark.parametrize("nonsense", ["machine=x", "village=-1", f"machine={'9' * 40}", "stage=declined", "stage=%00"])
def test_a_choice_that_cannot_be_is_passed_over(signed_in, perpetua, mill, season, nonsense):
    assert "Only:" not in signed_in(perpetua).get(f"{ADDRESS}&{nonsense}").content.decode()


def test_a_choice_of_what_is_not_there_says_so(signed_in, perpetua, mill, season):
    page = signed_in(perpetua).get(f"{ADDRESS}&machine=99&village=99").content.decode()

    assert "a machine that is not there, a village that is not there" in page


def test_the_page_of_choices_offers_all_and_has_what_is_chosen(signed_in, sunniva, mill, sorrelhythe, fennerlow):
    page = signed_in(sunniva).get(f"/season/filters/?back=month&month=2027-09&village={fennerlow.pk}").content.decode()

    assert '<form class="filters" id="filter-form" method="get" action="/season/">' in page
    assert '<input type="hidden" name="month" value="2027-09">' in page
    assert f'<option value="{fennerlow.pk}" selected>Fennerlow</option>' in page
    assert f'<option value="{mill.pk}">Heron mill</option>' in page


@pytest.mark.parametrize("asked", ["back=elsewhere&month=2027-09", "back=month&month=x", "back=day&day=%22%3E"])
def test_the_page_of_choices_leads_nowhere_else(signed_in, sunniva, mill, asked):
    page = signed_in(sunniva).get(f"/season/filters/?{asked}").content.decode()

    assert '<form class="filters" id="filter-form" method="get" action="/season/' in page
    assert page.count('type="hidden" name="month"') == (asked == "back=elsewhere&month=2027-09")


# Closed days and holidays


def test_closed_days_and_holidays_stand_in_the_month_with_their_reasons(
    signed_in, perpetua, mill, season, scheme, now, today
):
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
    show_holidays(scheme=scheme, country="US", part="", by=perpetua, at=now)

    page = signed_in(perpetua).get(ADDRESS).content.decode()

    assert '<td colspan="3" class="span-closed"><abbr title="A new belt">closed: A new belt</abbr></td>' in page
    assert "<strong>Mon 20 Sep to Wed 22 Sep</strong>, away for service: A new belt." in page
    assert '<abbr class="feast" title="Labor Day">holiday</abbr>' in page
    assert "Mon 6 Sep: Labor Day" in page


def test_a_choice_costs_no_query_more(signed_in, perpetua, sorrelhythe, sunniva, mill, book, django_assert_num_queries):
    book(sorrelhythe, sunniva, [mill], 11)
    client = signed_in(perpetua)

    with django_assert_num_queries(6):
        client.get(f"{ADDRESS}&machine={mill.pk}&village={sorrelhythe.pk}&stage=asked")
