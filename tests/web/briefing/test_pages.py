"""The briefing's pages: read and ticked, the ticks kept where it is refused, and who has done so."""

import re
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.bookings import briefing
from kitshare.bookings.briefing_models import BriefingRead, BriefingSettings
from kitshare.bookings.models import Booking
from kitshare.web.home.needs import needs_of


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


READ = "/briefing/"
TICKED = re.compile(r"<input[^>]* checked")


def ticks(*left_out: str) -> dict[str, str]:
    words = briefing.words_in_force()
    return {"version": words.version} | {point.key: "on" for point in words.points if point.key not in left_out}


def test_a_borrower_is_asked_on_the_first_page_reads_and_confirms(signed_in, sunniva, agreed_booking, today):
    client = signed_in(sunniva)
    assert "briefing" in {need.word for need in needs_of(sunniva, today)}
    page = client.get(READ).content.decode()
    assert "Local rules come first" in page
    assert page.count("Read and understood") == len(briefing.POINTS)

    answer = client.post(READ, ticks(), follow=True)

    assert "Sunniva Okparadine confirmed each point" in answer.content.decode()
    assert "briefing" not in {need.word for need in needs_of(sunniva, today)}


def test_a_point_left_open_is_refused_beside_it_and_the_other_ticks_stay(signed_in, sunniva, agreed_booking):
    answer = signed_in(sunniva).post(READ, ticks("lifting"))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.count("Read it, and tick it.") == 2  # in the summary, and by the point
    assert len(TICKED.findall(page)) == len(briefing.POINTS) - 1
    assert not BriefingRead.objects.exists()


def test_words_that_changed_meanwhile_are_shown_and_ticked_anew(signed_in, sunniva, perpetua, agreed_booking, now):
    typed = ticks()
    briefing.change_briefing(own_words="The tap is behind the scales.", holds_pickup=False, by=perpetua, at=now)

    page = signed_in(sunniva).post(READ, typed | {"own": "on"}).content.decode()

    assert "The words were changed after you opened them." in page
    assert "The tap is behind the scales." in page
    assert TICKED.findall(page) == []
    assert 'value="1.2"' in page


def test_without_a_season_there_is_nothing_to_confirm(signed_in, sunniva):
    assert "nothing to confirm now" in signed_in(sunniva).get(READ).content.decode()
    assert signed_in(sunniva).post(READ, ticks()).status_code == 200
    assert not BriefingRead.objects.exists()


def test_the_booking_and_its_pickup_say_that_it_is_open(signed_in, sunniva, agreed_booking):
    for name in ("bookings:show", "checks:pickup"):
        page = signed_in(sunniva).get(reverse(name, args=[agreed_booking.pk])).content.decode()
        assert "has not confirmed this season&#x27;s briefing" in page or "has not confirmed this season's" in page


def test_a_pickup_that_waits_leads_to_the_briefing(signed_in, sunniva, perpetua, agreed_booking, now):
    briefing.change_briefing(own_words="", holds_pickup=True, by=perpetua, at=now)

    page = signed_in(sunniva).get(reverse("checks:pickup", args=[agreed_booking.pk])).content.decode()

    assert "a pickup waits for it" in page
    assert f'href="{READ}"' in page


def test_the_coordinator_sees_who_has_and_writes_down_one_on_paper(signed_in, perpetua, sunniva, agreed_booking):
    client = signed_in(perpetua)
    on_paper = reverse("briefing:member", args=[sunniva.pk])
    assert on_paper in client.get(reverse("briefing:who")).content.decode()

    page = client.post(on_paper, ticks(), follow=True).content.decode()

    assert on_paper not in page
    assert ">confirmed<" in page
    assert BriefingRead.objects.get().on_paper


def test_a_borrower_sees_nobody_elses(signed_in, leilani, sunniva):
    for address in (reverse("briefing:who"), reverse("briefing:words"), reverse("briefing:member", args=[sunniva.pk])):
        assert signed_in(leilani).get(address).status_code == 403


def test_the_own_words_are_changed_and_become_a_point(signed_in, perpetua, season):
    client, words = signed_in(perpetua), reverse("briefing:words")

    client.post(words, {"own_words": "Shut the gate.\nTwo on the trailer.", "holds_pickup": "on", "seen": "0"})

    assert BriefingSettings.objects.get().holds_pickup
    assert "Shut the gate." in client.get(READ).content.decode()


def test_the_list_costs_the_same_at_one_booking_and_at_twelve(signed_in, perpetua, agreed_booking):
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse("briefing:who"))
        return len(asked)

    client = signed_in(perpetua)
    queries()
    few = queries()
    for _number in range(11):
        booking = Booking.objects.get(pk=agreed_booking.pk)
        booking.pk, booking.uid = None, uuid4()
        booking.save(force_insert=True)

    assert queries() == few
