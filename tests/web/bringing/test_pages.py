"""The pages on which the coordinator sends a file, looks at it row by row, and brings it in."""

import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from kitshare.bookings.models import Booking
from kitshare.bringing.models import BroughtFile
from kitshare.bringing.reading import read
from tests.bookings.conftest import ask
from tests.bookings.waiters import wait
from tests.bringing.conftest import UTC, table
from tests.web.page import Page

__all__ = ["ask", "wait"]

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture(autouse=True)
def world(season, sorrelhythe, fennerlow, mill, press, otter_mill):
    """Two villages with one borrower each, and three machines."""


@pytest.fixture
def coordinator(signed_in, perpetua):
    return signed_in(perpetua)


@pytest.fixture
def send(coordinator):
    """Send a file by the form, and follow to whatever comes."""

    def send(data: bytes, *, name="paper.csv", **changes):
        fields = {"coming_as": "agreed", "telling": "nobody", "fruit_kg": ""} | changes
        upload = SimpleUploadedFile(name, data)
        return coordinator.post(reverse("bringing:start"), fields | {"file": upload}, follow=True)

    return send


def words_of(answer) -> str:
    """What a person reads on a page."""
    return " ".join(re.sub(r"<[^>]*>", " ", answer.content.decode()).split())


def address(name: str) -> str:
    return reverse(f"bringing:{name}", args=[BroughtFile.objects.get().pk])


def test_from_a_file_to_bookings_in_three_steps(send, coordinator):
    looked = send(table({}, {"village": "fennerlow", "machines": "otter MILL"}))
    assert "2 bookings would be made." in words_of(looked)
    assert not Booking.objects.exists()

    brought = coordinator.post(address("bring"), follow=True)

    assert "2 bookings were made." in words_of(brought)
    assert Booking.objects.count() == 2
    assert Page(brought.content.decode()).wrong == []


def test_a_second_tap_says_nothing_new_and_makes_nothing_more(send, coordinator):
    send(table({}))

    answers = [coordinator.post(address("bring"), follow=True) for _tap in range(2)]

    assert [answer.status_code for answer in answers] == [200, 200]
    assert "were made" not in words_of(answers[1])
    assert Booking.objects.count() == 1


def test_each_row_says_what_would_become_of_it(send, ask):
    ask()
    answer = send(
        table(
            {"machines": "Otter mill"},
            {"village": "Fennerlow"},
            {"village": "Fenerlow", "machines": "Otter mill"},
            {"out_on": "11/09/2027"},
        )
    )

    said = words_of(answer)
    assert "3 rows are in the way, so nothing can be brought in." in said
    assert "Heron mill: with Sorrelhythe from Sat 11 Sep to Mon 13 Sep. The nearest free days: " in said
    assert "“Fenerlow” is no village of ours. Near: Fennerlow." in said
    assert "may be 2027-09-11 or 2027-11-09" in said
    assert "Bring in" not in said.replace("Bring in bookings from a file", "")


def test_the_list_can_be_narrowed_to_what_is_in_the_way(send, coordinator):
    send(table({}, {"village": "Nowhere", "machines": "Otter mill"}))

    narrowed = words_of(coordinator.get(address("look") + "?show=unclear"))

    assert "Nowhere" in narrowed
    assert "Sorrelhythe" not in narrowed


def test_days_that_were_taken_since_the_look_are_said_on_the_page(send, coordinator, ask):
    send(table({"village": "Fennerlow"}))
    ask()

    answer = coordinator.post(address("bring"))

    assert answer.status_code == 409
    assert "Nothing was made: 1 row is in the way" in words_of(answer)
    assert Booking.objects.count() == 1


def test_a_village_added_meanwhile_makes_the_same_file_fit(send, coordinator, fennerlow):
    fennerlow.name = "Elsewhere"
    fennerlow.save()
    send(table({"village": "Fennerlow"}))
    fennerlow.name = "Fennerlow"
    fennerlow.save()

    assert "1 booking would be made." in words_of(coordinator.get(address("look")))


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "The file is empty."),
        (b"BEGIN:VCALENDAR\nBEGIN:VCALENDAR\n", "Line 2: a calendar within a calendar"),
        (b"Village,Kit\n", "Line 1: the first row must name the columns."),
        (table(), "No booking is in the file."),
        (b"x" * 2_050_000, "The file is larger than 2 MB"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_beside_its_field_and_choices_stay(send, data, why):
    answer = send(data, coming_as="asked", fruit_kg="350")

    said = answer.content.decode()
    assert answer.status_code == 422
    assert words_of(answer).count(why) == 2  # in the summary and beside the field
    assert 'value="350"' in said
    assert re.search(r'value="asked"[^>]* checked', said)
    assert not BroughtFile.objects.exists()
    assert Page(said).wrong == []


@pytest.mark.parametrize("changes", [{"fruit_kg": "lots"}, {"fruit_kg": "0"}, {"coming_as": "out"}, {"telling": ""}])
def test_choices_that_are_none_are_refused(send, changes):
    assert send(table({}), **changes).status_code == 422


def test_no_file_at_all_is_refused(coordinator):
    answer = coordinator.post(reverse("bringing:start"), {"coming_as": "agreed", "telling": "nobody"})

    assert "Choose the file." in words_of(answer)


class Endless(io.BytesIO):
    """A body of fifty megabytes, of which no more than a piece at a time may ever be held."""

    def __init__(self) -> None:
        self.asked: list[int] = []

    def read(self, size: int = -1, /) -> bytes:
        self.asked.append(size)
        return b"x" * size if sum(self.asked) < 50_000_000 else b""


def test_fifty_megabytes_are_refused_and_never_held(coordinator, monkeypatch):
    monkeypatch.setattr("kitshare.web.bringing.forms.read", lambda *_, **__: pytest.fail("it was looked at"))
    body = Endless()

    answer = coordinator.generic(
        "POST",
        reverse("bringing:start"),
        content_type="multipart/form-data; boundary=x",
        **{"wsgi.input": body, "CONTENT_LENGTH": "50000000"},
    )

    assert answer.status_code == 413
    assert "2 MB at most" in words_of(answer)
    assert all(0 < size <= 1_000_000 for size in body.asked)


def test_what_was_brought_in_can_be_taken_back_on_its_page(send, coordinator):
    send(table({}))
    coordinator.post(address("bring"))

    answer = coordinator.post(address("take_back"), follow=True)

    assert "Taken back" in words_of(answer)
    assert not Booking.objects.exists()
    assert "taken back" in words_of(coordinator.get(reverse("bringing:start")))


def test_a_booking_that_moved_on_is_named_where_nothing_is_taken_back(send, coordinator):
    send(table({}))
    coordinator.post(address("bring"))
    Booking.objects.update(revision=2)

    answer = coordinator.post(address("take_back"), follow=True)

    assert "Something has been done since with: Sorrelhythe, Sat 11 Sep." in words_of(answer)
    assert Booking.objects.count() == 1


def test_a_file_can_be_forgotten(send, coordinator):
    send(table({}))

    answer = coordinator.post(address("throw_away"), follow=True)

    assert "Nothing was made from it." in words_of(answer)
    assert not BroughtFile.objects.exists()


def test_a_file_is_seen_by_whoever_sent_it_and_by_nobody_else(send, signed_in, perpetua, teodor, sunniva):
    send(table({}))
    teodor.coordinates = True
    teodor.save()

    assert signed_in(teodor).get(address("look")).status_code == 404
    assert signed_in(sunniva).get(address("look")).status_code == 403
    assert signed_in(sunniva).get(reverse("bringing:copies")).status_code == 403


def test_the_look_costs_the_same_at_one_row_and_at_twelve(send, coordinator, ask, django_assert_max_num_queries):
    ask()
    counts = []
    for rows in (1, 12):
        BroughtFile.objects.all().delete()
        send(table(*[{"village": "Fennerlow", "fruit_amount": str(number + 1)} for number in range(rows)]))
        with django_assert_max_num_queries(40) as captured:
            coordinator.get(address("look"))
        counts.append(len(captured))

    assert counts[0] == counts[1]


def test_the_result_costs_the_same_at_one_booking_and_at_twelve(send, coordinator, django_assert_max_num_queries):
    counts = []
    for rows in (1, 12):
        BroughtFile.objects.all().delete()
        Booking.objects.all().delete()
        send(table(*[{"out_on": f"2027-09-{2 * n + 2:02}", "back_on": f"2027-09-{2 * n + 3:02}"} for n in range(rows)]))
        coordinator.post(address("bring"))
        coordinator.get(address("look"))
        with django_assert_max_num_queries(40) as captured:
            coordinator.get(address("look"))
        counts.append(len(captured))

    assert counts[0] == counts[1]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_empty_table_is_one_that_can_be_filled_in(coordinator, kind):
    answer = coordinator.get(reverse("bringing:empty_table", args=[kind]))

    assert f'filename="bookings.{kind}"' in answer["Content-Disposition"]
    assert read(answer.content, zone=UTC).rows == []


@pytest.mark.parametrize("kind", ["ics", "csv", "xlsx"])
def test_a_copy_holds_the_bookings_of_the_season_asked_for(coordinator, ask, season, kind):
    ask()
    other = reverse("bringing:copy") + f"?as={kind}&season="

    assert len(read(coordinator.get(other + str(season.pk)).content, zone=UTC).rows) == 1
    assert len(read(coordinator.get(other + "all").content, zone=UTC).rows) == 1
    assert "no-store" in coordinator.get(other + "all")["Cache-Control"]


@pytest.mark.parametrize(
    "query", ["", "?as=exe", "?as=csv&season=999", "?as=csv&season=²", "?as=csv&season=" + "9" * 40]
)
def test_a_copy_of_what_is_not_there_is_none(coordinator, query):
    assert coordinator.get(reverse("bringing:copy") + query).status_code == 404


def test_without_bookings_there_is_nothing_to_copy(coordinator):
    assert "Nothing is booked yet" in words_of(coordinator.get(reverse("bringing:copies")))


def test_the_list_of_bookings_leads_the_coordinator_here(coordinator, signed_in, sunniva):
    assert reverse("bringing:start") in coordinator.get(reverse("bookings:list")).content.decode()
    assert reverse("bringing:start") not in signed_in(sunniva).get(reverse("bookings:list")).content.decode()


def test_whoever_only_waits_is_in_no_copy_and_comes_in_from_no_file(coordinator, ask, wait, fennerlow, send):
    ask()
    wait(fennerlow)

    copy = coordinator.get(reverse("bringing:copy") + "?as=csv&season=all").content
    page = words_of(send(table({"stage": "waiting"})))

    assert len(read(copy, zone=UTC).rows) == 1
    assert "The waiting list is not brought in from a file" in page


def test_the_same_file_again_says_when_it_was_brought_in(send, coordinator):
    send(table({}))
    coordinator.post(address("bring"))

    again = words_of(send(table({})))

    assert "The same file was brought in on Wed 1 Sep, 09:30." in again
    assert "No row of the file is new" in again
    assert "here already" in again
