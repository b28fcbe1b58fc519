"""Who does what only one may do: decided by the database, on either engine."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.serving.actions import give_lease_back, hold_lease
from kitshare.serving.models import Lease

pytestmark = pytest.mark.django_db

LASTING = timedelta(seconds=30)


def held(holder, at):
    return hold_lease(work="ringing", holder=holder, lasting=LASTING, at=at)


def test_one_holds_it_and_may_prolong_it(now):
    assert held("first", now)
    assert not held("second", now + timedelta(seconds=29))

    assert held("first", now + timedelta(seconds=29))
    assert not held("second", now + timedelta(seconds=58))


def test_who_says_nothing_until_it_ends_loses_it(now):
    held("first", now)

    assert held("second", now + LASTING)
    assert not held("first", now + LASTING)


def test_what_is_given_back_is_had_at_once_and_nobody_gives_back_another_s(now):
    held("first", now)

    give_lease_back(work="ringing", holder="second", at=now)
    assert not held("second", now)
    give_lease_back(work="ringing", holder="first", at=now)
    assert held("second", now)


def test_a_lease_from_before_the_clock_was_set_back_binds_nobody(now):
    held("first", now)

    assert held("second", now - timedelta(hours=1))
    assert not held("first", now - timedelta(hours=1) + timedelta(seconds=5))


def test_a_work_has_one_lease(now):
    held("first", now)

    with pytest.raises(IntegrityError), transaction.atomic():  # lease_one_a_work
        Lease.objects.create(work="ringing", holder="second", until=now)
