"""What a part may last yet, from the lines of the checks of its like; and its chart and words on the part's page."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.bookings.models import Booking, Stage
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome
from kitshare.checks.wear import Wear, wear_of
from kitshare.kits.models import Machine, Part
from kitshare.rules.checklists import Condition, PartKind
from kitshare.rules.wear import Life, Remaining, remaining
from kitshare.web.kits.wear_facts import wear_words
from tests.web.page import Page

SOUND, WORN, DAMAGED, MISSING = Condition


@pytest.fixture
def out(sorrelhythe, sunniva, now):
    """Sends a part on outings, one after the other; each comes back as told."""
    days = iter(range(1, 400, 2))

    def seen(booking, part, kind, condition, spare=False):
        check = HandoverCheck.objects.create(
            booking=booking,
            kind=kind,
            outcome=Outcome.HANDED_OVER,
            by=sunniva,
            signed_name="Sunniva",
            signed_role="borrower",
            done_at=booking.asked_at,
            digest="",
        )
        there = 0 if condition == MISSING else 1
        CheckLine.objects.create(
            check_of=check, part=part, expected_count=1, count=there, condition=condition, spare_fitted=spare
        )

    def send(part, *came_back, spare=False):
        for after in came_back:
            day = now + timedelta(days=next(days))
            booking = Booking.objects.create(
                village=sorrelhythe,
                borrower=sunniva,
                stage=Stage.BACK,
                out_on=day.date(),
                back_on=day.date() + timedelta(days=1),
                fruit_amount=Decimal(100),
                fruit_kg=Decimal(100),
                asked_at=day,
                changed_at=day,
            )
            seen(booking, part, CheckKind.PICKUP, SOUND, spare)
            seen(booking, part, CheckKind.RETURN, after)

    return send


@pytest.fixture
def other_pin(otter_mill):
    return Part.objects.create(machine=otter_mill, name="drive PIN", kind=PartKind.VITAL)


def test_lives_of_its_like_are_weighed_and_its_own_life_is_its_age(out, drive_pin, other_pin, press):
    out(drive_pin, SOUND, WORN, SOUND, DAMAGED, SOUND, SOUND)
    out(other_pin, SOUND, DAMAGED, SOUND, SOUND, MISSING, SOUND)
    out(Part.objects.create(machine=press, name="Drive pin"), MISSING)

    found = wear_of(drive_pin)

    lives = [Life(outings=n, ended=True) for n in (4, 2, 3)] + [Life(outings=1, ended=False)]
    assert (found.age, found.ended) == (2, 3)
    assert found.remaining == remaining(lives, age=2)
    assert (found.remaining.lives, found.remaining.ended) == (4, 3)


def test_with_two_ended_lives_and_with_none_in_use_nothing_is_reckoned(out, drive_pin, other_pin):
    out(drive_pin, SOUND, DAMAGED)
    out(other_pin, MISSING, SOUND)

    assert (wear_of(drive_pin).age, wear_of(other_pin).age) == (None, 1)
    assert wear_of(other_pin).ended == 2
    assert wear_of(other_pin).remaining is None


def test_parts_of_other_machines_are_each_their_own(out, heron, otter):
    parts = [
        Part.objects.create(machine=Machine.objects.create(kit=kit, name="Pump", kind="other"), name="Belt")
        for kit in (heron, otter)
    ]
    out(parts[0], DAMAGED, DAMAGED, DAMAGED, SOUND)

    assert wear_of(parts[1]).ended == 0


def test_the_page_draws_each_handover_and_says_the_range_and_what_it_rests_on(
    out, signed_in, perpetua, leilani, fennerlow, drive_pin, other_pin, django_assert_num_queries
):
    client, place = signed_in(perpetua), reverse("kits:part", args=[drive_pin.pk])
    out(drive_pin, SOUND)
    assert "How long it will last is not said: 0 such parts have ended so far" in client.get(place).content.decode()
    with CaptureQueriesContext(connection) as few:
        client.get(place)
    out(other_pin, *[SOUND, DAMAGED, SOUND] * 4)
    out(drive_pin, WORN, DAMAGED, SOUND, spare=False)
    out(drive_pin, SOUND, spare=True)

    with django_assert_num_queries(len(few)):
        page = client.get(place).content.decode()

    found = wear_of(drive_pin).remaining
    assert f"and {-int(-found.high // 1)} more outings, nine in ten" in page
    assert f"From {found.lives} lives of such parts, of which {found.ended} ended." in page
    assert "says nothing of whether this one may go out" in page
    marks = [page.count(f'class="wear-{word}"') for word in ("sound", "worn", "damaged", "missing", "new")]
    assert marks == [8, 1, 1, 0, 1]
    assert page.count('data-word="Condition"') == 10
    assert Page(page).wrong == []
    elsewhere = signed_in(leilani).get(place).content.decode()
    assert "wear-chart" not in elsewhere
    assert "nine in ten" in elsewhere


@pytest.mark.parametrize("what", ["cloths", "sanitiser", "guard"])
def test_where_nothing_can_be_reckoned_the_page_says_why(what, request, signed_in, sunniva):
    part = request.getfixturevalue(what)

    page = signed_in(sunniva).get(reverse("kits:part", args=[part.pk])).content.decode()

    assert {"cloths": "travels in a number", "sanitiser": "used up", "guard": "none is in use"}[what] in page
    assert "nine in ten" not in page


@pytest.mark.parametrize(("expected", "words"), [(0.4, "half do not last one more."), (6.6, "half last over 7.")])
def test_the_range_is_rounded_outwards_and_its_middle_in_words(expected, words, monkeypatch, drive_pin):
    found = Remaining(low=0.9, expected=expected, high=13.2, lives=6, ended=4)
    monkeypatch.setattr("kitshare.web.kits.wear_facts.wear_of", lambda _part: Wear(age=3, ended=4, remaining=found))

    assert wear_words(drive_pin) == [
        f"Expect between 0 and 14 more outings, nine in ten; {words}",
        "From 6 lives of such parts, of which 4 ended. This one has been on 3 outings since it was first seen or"
        " replaced.",
    ]
