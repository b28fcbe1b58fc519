"""A thing's history: newest first, 25 lines at a time."""

from datetime import timedelta

import pytest
from django.template.loader import render_to_string

from kitshare.logbook.actions import write
from kitshare.web.logbook.facts import history_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def sixty_lines(heron, perpetua, now):
    return [
        write(deed="kit_changed", text=f"Line {n}", about=[heron], by=perpetua, at=now + timedelta(minutes=n // 7))
        for n in range(60)
    ]


def test_every_line_is_on_one_stretch_and_in_order(heron, sixty_lines):
    seen, before = [], None
    for expected in (25, 25, 10):
        history = history_of(heron, before=before)
        assert len(history.entries) == expected
        seen += history.entries
        before = str(history.older)

    assert history.older is None
    assert seen == sixty_lines[::-1]


@pytest.mark.parametrize("before", [None, "", "-1", "x", "²", "999999999999999999999", "9999", "<script>"])
def test_an_address_that_makes_no_sense_shows_the_newest_lines(heron, sixty_lines, before):
    history = history_of(heron, before=before)

    assert history.is_newest
    assert history.entries[0] == sixty_lines[-1]


def test_a_line_about_something_else_is_no_place_to_begin(heron, otter, sixty_lines, perpetua, now):
    other = write(deed="kit_changed", text="Otter", about=[otter], by=perpetua, at=now)

    assert history_of(heron, before=str(other.pk)).is_newest


def test_the_component_shows_who_and_when_and_lets_no_script_through(heron, perpetua, now):
    write(deed="kit_changed", text="<script>alert(1)</script>", about=[heron], by=perpetua, at=now)

    page = render_to_string("components/history.html", {"entries": history_of(heron).entries})

    assert "<script>" not in page
    assert "Perpetua Quillstone" in page
    assert "09:30" in page


def test_a_thing_without_lines_says_so(heron):
    assert "Nothing is written" in render_to_string("components/history.html", {"entries": []})


def test_older_lines_are_one_link_away(heron, sixty_lines):
    history = history_of(heron)

    page = render_to_string("components/history.html", {"entries": history.entries, "older": history.older})

    assert f'href="?before={history.older}#history"' in page
