"""A thing's history: newest first, 25 lines at a time."""

from datetime import date, timedelta

import pytest
from django.template.loader import render_to_string

from kitshare.bookings.models import Booking
from kitshare.logbook.actions import write
from kitshare.web.logbook.facts import history_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def sixty_lines(heron, perpetua, now):
    return [
        write(deed="kit_changed", text=f"Line {n}", about=[heron], by=perpetua, at=now + timedelta(minutes=n // 7))
        for n in range(60)
    ]


def test_every_line_is_on_one_stretch_and_in_order(heron, perpetua, sixty_lines):
    seen, before = [], None
    for expected in (25, 25, 10):
        history = history_of(heron, perpetua, before=before)
        assert len(history.entries) == expected
        seen += history.entries
        before = str(history.older)

    assert history.older is None
    assert seen == sixty_lines[::-1]


@pytest.mark.parametrize("before", [None, "", "-1", "x", "²", "999999999999999999999", "9999", "<script>"])
def test_an_address_that_makes_no_sense_shows_the_newest_lines(heron, perpetua, sixty_lines, before):
    history = history_of(heron, perpetua, before=before)

    assert history.is_newest
    assert history.entries[0] == sixty_lines[-1]


def test_a_line_about_something_else_is_no_place_to_begin(heron, otter, sixty_lines, perpetua, now):
    other = write(deed="kit_changed", text="Otter", about=[otter], by=perpetua, at=now)

    assert history_of(heron, perpetua, before=str(other.pk)).is_newest


def test_the_component_shows_who_and_when_and_lets_no_script_through(heron, perpetua, now):
    write(deed="kit_changed", text="<script>alert(1)</script>", about=[heron], by=perpetua, at=now)

    page = render_to_string("components/history.html", {"entries": history_of(heron, perpetua).entries})

    assert "<script>" not in page
    assert "Perpetua Quillstone" in page
    assert "09:30" in page


def test_a_thing_without_lines_says_so(heron):
    assert "Nothing is written" in render_to_string("components/history.html", {"entries": []})


def test_older_lines_are_one_link_away(heron, perpetua, sixty_lines):
    history = history_of(heron, perpetua)

    page = render_to_string("components/history.html", {"entries": history.entries, "older": history.older})

    assert f'href="?before={history.older}#history"' in page


@pytest.fixture
def asked_by_sorrelhythe(heron, mill, sorrelhythe, sunniva, now):
    booking = Booking.objects.create(
        village=sorrelhythe,
        borrower=sunniva,
        out_on=date(2027, 9, 4),
        back_on=date(2027, 9, 6),
        fruit_amount=100,
        fruit_kg=100,
        asked_at=now,
        changed_at=now,
    )
    booking.machines.add(mill)
    return write(deed="booking_asked", text="Asked for Heron.", about=[heron, mill, booking], by=sunniva, at=now)


def test_a_line_about_a_booking_is_read_by_its_village_and_by_those_who_run_the_scheme(
    heron, asked_by_sorrelhythe, sunniva, leilani, fennerlow, perpetua, teodor
):
    for reader in (sunniva, perpetua, teodor):
        assert history_of(heron, reader).entries == [asked_by_sorrelhythe]
    assert history_of(heron, leilani).entries == []
