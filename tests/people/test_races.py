"""Two people at the same moment. With real connections, so on PostgreSQL; SQLite lets one writer in at a time."""

import uuid
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from kitshare.people import actions as people
from kitshare.people import sign_ins
from kitshare.people.models import Member, Scheme, SignInTry
from kitshare.people.refusals import PeopleRefused
from tests.people.test_actions import keep, start

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.needs_postgresql, pytest.mark.race]

AT_ONCE = 4


@pytest.fixture(autouse=True)
def real_connections():
    if connection.vendor != "postgresql":
        pytest.skip("needs connections of their own for each thread: PostgreSQL")


def at_once(*deeds):
    """Do the deeds at the same moment, and give back what each returned or was refused with."""
    gate = Barrier(len(deeds))

    def do(deed):
        try:
            gate.wait()
            return deed()
        except PeopleRefused as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(deeds)) as threads:
        return list(threads.map(do, deeds))


def refused(answers):
    return [type(answer).__name__ for answer in answers if isinstance(answer, PeopleRefused)]


def test_of_those_who_start_a_scheme_at_once_one_does(now):
    answers = at_once(*[lambda: start(now)] * AT_ONCE)

    assert refused(answers) == ["SchemeExists"] * (AT_ONCE - 1)
    assert Scheme.objects.count() == 1
    assert Member.objects.count() == 1


def test_two_coordinators_who_step_down_at_once_leave_one(now):
    perpetua = start(now).coordinator
    idris = people.add_member(
        name="Idris Vellacombe", email="idris@example.org", telephone="", coordinates=True, by=perpetua, at=now
    )

    answers = at_once(
        lambda: people.change_member(**keep(perpetua, coordinates=False), by=perpetua, at=now),
        lambda: people.change_member(**keep(idris, coordinates=False), by=idris, at=now),
    )

    assert refused(answers) == ["LastCoordinator"]
    assert Member.objects.coordinating().count() == 1


def test_an_address_given_twice_at_once_is_given_once(now):
    perpetua = start(now).coordinator

    def add(address):
        return lambda: people.add_member(name="Hamza", email=address, telephone="", by=perpetua, at=now)

    answers = at_once(add("hamza@example.org"), add("Hamza@example.org"), add("HAMZA@example.org"))

    assert refused(answers) == ["AddressTaken"] * 2
    assert Member.objects.filter(name="Hamza").count() == 1


def test_a_form_sent_twice_at_once_adds_one_member_and_refuses_nobody(now):
    perpetua = start(now).coordinator
    key = uuid.uuid4()

    def add():
        return people.add_member(name="Emrys", email=None, telephone="1", by=perpetua, at=now, form_key=key)

    answers = at_once(*[add] * AT_ONCE)

    assert len({answer.pk for answer in answers}) == 1
    assert Member.objects.filter(name="Emrys").count() == 1


def test_tries_at_once_are_all_written_down(now):
    at_once(*[lambda: sign_ins.begin_try(address="a@example.org", client="192.0.2.1", at=now)] * AT_ONCE)

    assert SignInTry.objects.count() == AT_ONCE
