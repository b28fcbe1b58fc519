"""Guessing is slowed down, per pair, per client and per address, and never for longer than ten minutes."""

from datetime import timedelta

import pytest

from kitshare.people import sign_ins
from kitshare.people.models import SignInTry

pytestmark = pytest.mark.django_db


def tries(count, at, *, address="sunniva@example.org", client="192.0.2.1"):
    return [
        sign_ins.begin_try(address=address.format(number), client=client.format(number), at=at)
        for number in range(count)
    ]


def test_five_tries_of_one_pair_are_free_and_the_sixth_waits_ten_minutes_from_the_first(now):
    assert tries(5, now) == [None] * 5
    assert tries(1, now + timedelta(minutes=4)) == [now + timedelta(minutes=10)]


def test_after_the_window_a_try_is_welcome_again_and_the_old_rows_are_gone(now):
    tries(5, now)

    assert tries(1, now + timedelta(minutes=10)) == [None]
    assert SignInTry.objects.count() == 1


def test_waiting_is_not_prolonged_by_trying(now):
    tries(5, now)
    tries(20, now + timedelta(minutes=9))

    assert tries(1, now + timedelta(minutes=10)) == [None]


def test_the_case_of_the_address_makes_no_new_pair(now):
    tries(5, now)

    assert tries(1, now, address=" SUNNIVA@example.org ") != [None]


def test_one_client_guesses_thirty_addresses_at_most(now):
    assert tries(30, now, address="{}@example.org") == [None] * 30
    assert tries(1, now, address="another@example.org") != [None]
    assert tries(1, now, address="another@example.org", client="192.0.2.2") == [None]


def test_one_stranger_cannot_shut_a_member_out(now):
    tries(200, now)

    assert tries(1, now, client="192.0.2.2") == [None]


def test_an_address_guessed_from_everywhere_waits_too(now):
    assert tries(50, now, client="192.0.2.{}") == [None] * 50
    assert tries(1, now, client="198.51.100.1") == [now + timedelta(minutes=10)]


def test_who_knew_the_password_starts_afresh(now):
    tries(4, now)
    sign_ins.succeed(address="Sunniva@example.org", client="192.0.2.1")

    assert tries(5, now) == [None] * 5


def test_what_was_typed_is_not_kept(now):
    tries(1, now, address="my password by mistake")

    row = SignInTry.objects.get()
    assert "mistake" not in f"{row.address_key}{row.client_key}"
    assert "192.0.2.1" not in f"{row.address_key}{row.client_key}"
