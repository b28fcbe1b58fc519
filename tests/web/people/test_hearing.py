"""The page "What I am told", and the way out of reminders that stands in a letter."""

from datetime import date, time, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitshare.outbox import stopping
from kitshare.people.models import Member

DAILY = {"bundled": "daily", "digest_at": "18:00", "quiet_from": "22:00", "quiet_until": "7.00"}


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_a_member_chooses_and_is_shown_what_cannot_be_switched_off(signed_in, sunniva):
    client = signed_in(sunniva)
    page = words(client.get(reverse("people:own_hearing")))

    answer = client.post(reverse("people:own_hearing"), DAILY, follow=True)

    assert "It cannot be switched off" in page
    assert "Language" not in page  # there is one
    assert "this is how you are told from now on" in words(answer)
    sunniva.refresh_from_db()
    assert (sunniva.digest_at, sunniva.quiet_from, sunniva.quiet_until) == (time(18), time(22), time(7))
    assert not sunniva.wants_reminders
    assert reverse("people:own_hearing") in words(client.get(reverse("people:me")))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (DAILY | {"digest_at": "23:00"}, "within the quiet hours"),
        (DAILY | {"digest_at": ""}, "Say at which hour"),
        (DAILY | {"quiet_until": ""}, "Quiet hours have a beginning and an end"),
        (DAILY | {"quiet_until": "late"}, "Write the time as hours and minutes"),
        (DAILY | {"bundled": "never"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_is_said_by_the_field_and_keeps_what_was_typed(signed_in, sunniva, typed, said):
    page = words(signed_in(sunniva).post(reverse("people:own_hearing"), typed))

    assert said in page
    assert 'value="22:00"' in page


def test_a_coordinator_chooses_for_somebody_without_an_address_and_nobody_else_does(signed_in, sunniva, perpetua):
    Member.objects.filter(pk=sunniva.pk).update(email=None)
    address = reverse("people:member_hearing", args=[sunniva.pk])

    assert signed_in(sunniva).get(address).status_code == 403
    client = signed_in(perpetua)
    assert "told by telephone" in words(client.get(address))
    client.post(address, {"bundled": "single"})
    sunniva.refresh_from_db()
    assert not sunniva.wants_reminders


@pytest.fixture
def stop(sunniva) -> str:
    token = stopping.token_for(member_key=sunniva.pk, written_on=timezone.now().date())
    return reverse("post:stop_reminders", args=[token])


def test_opening_the_way_out_only_shows_it_and_one_click_without_signing_in_stops_the_reminders(stop, sunniva):
    client = Client(enforce_csrf_checks=True)  # as a mail program comes: no session, no token of a form (RFC 8058)
    shown = words(client.get(stop))
    client.post(stop)
    sunniva.refresh_from_db()
    assert "Send me no more reminders" in shown
    assert sunniva.wants_reminders

    answer = client.post(stop, {"List-Unsubscribe": "One-Click"})

    sunniva.refresh_from_db()
    assert answer.status_code == 200  # "MUST NOT return an HTTPS redirect" (RFC 8058, 3.1)
    assert "You get no more reminders" in words(answer)
    assert not sunniva.wants_reminders
    assert "You get no more reminders" in words(client.get(stop))


def test_an_address_that_is_old_or_damaged_or_of_nobody_says_so_in_words(stop, client, sunniva, subtests):
    old = stopping.token_for(member_key=sunniva.pk, written_on=date(2020, 1, 1))
    gone = stopping.token_for(member_key=10**12, written_on=timezone.now().date())
    for token, said in {
        old: "more than a year old",
        gone: "no longer a member",
        stop.rstrip("/").rpartition("/")[2][:-3]: "is not whole",
        "x~y": "is not whole",
        "é" * 50: "is not whole",
    }.items():
        with subtests.test(said):
            address = reverse("post:stop_reminders", args=[token])
            for answer in (client.get(address), client.post(address, {"List-Unsubscribe": "One-Click"})):
                assert answer.status_code == 404
                assert said in words(answer)
    sunniva.refresh_from_db()
    assert sunniva.wants_reminders


def test_such_an_address_is_good_for_more_than_a_year(sunniva):
    token = stopping.token_for(member_key=sunniva.pk, written_on=date(2027, 9, 1))

    assert stopping.read_token(token, today=date(2028, 9, 1)).member_key == sunniva.pk
    with pytest.raises(stopping.TokenTooOld):
        stopping.read_token(token, today=date(2027, 9, 1) + stopping.GOOD_FOR + timedelta(days=1))
