"""The season page: what it shows, to whom, and that it costs the same however much there is."""

import re
from datetime import date

import pytest
from django.urls import reverse

from kitshare.kits.models import Machine, MachineKind
from kitshare.rules.checklists import Severity
from kitshare.upkeep.models import Fault
from kitshare.web.season.views import asked_month

pytestmark = pytest.mark.django_db
ADDRESS = "/season/?month=2027-09"


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
        (3, "span-free day-weekday"),  # Wed 1 to Fri 3 September
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
