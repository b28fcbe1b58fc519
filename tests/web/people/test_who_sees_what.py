"""Each address about people and the scheme, and who may open it."""

import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db

ALL = {"borrower": 200, "maintainer": 200, "coordinator": 200}
COORDINATOR = {"borrower": 403, "maintainer": 403, "coordinator": 200}
# By POST only: looking is not allowed, so that no link can do it.
COORDINATOR_POSTS = {"borrower": 403, "maintainer": 403, "coordinator": 405}

PAGES = [
    ("people:me", None, ALL),
    ("people:own_password", None, ALL),
    ("people:members", None, COORDINATOR),
    ("people:member_new", None, COORDINATOR),
    ("people:member", "member", COORDINATOR),
    ("people:member_change", "member", COORDINATOR),
    ("people:member_password", "member", COORDINATOR),
    ("people:villages", None, COORDINATOR),
    ("people:village_new", None, COORDINATOR),
    ("people:village", "own village", ALL),
    ("people:village", "other village", {"borrower": 403, "maintainer": 200, "coordinator": 200}),
    ("people:village_change", "own village", COORDINATOR),
    ("people:village_leave", "own village", COORDINATOR),
    ("people:village_return", "own village", COORDINATOR_POSTS),
    ("people:own_feed", None, {"borrower": 405, "maintainer": 405, "coordinator": 405}),
    ("people:village_feed", "own village", COORDINATOR_POSTS),
    ("setup:scheme", None, COORDINATOR),
    ("setup:scheme_feed", None, COORDINATOR_POSTS),
    ("setup:seasons", None, COORDINATOR),
    ("setup:season_new", None, COORDINATOR),
    ("setup:season_change", "season", COORDINATOR),
    ("setup:what_next", None, COORDINATOR),
]


@pytest.fixture
def people(sunniva, teodor, perpetua):
    return {"borrower": sunniva, "maintainer": teodor, "coordinator": perpetua}


@pytest.fixture
def keys(sunniva, sorrelhythe, fennerlow, season):
    return {"member": sunniva.pk, "own village": sorrelhythe.pk, "other village": fennerlow.pk, "season": season.pk}


def address(name, key, keys):
    return reverse(name, args=[keys[key]] if key else [])


@pytest.mark.parametrize("role", ["borrower", "maintainer", "coordinator"])
def test_each_role_is_answered(signed_in, people, keys, role, subtests):
    browser = signed_in(people[role])

    for name, key, answers in PAGES:
        with subtests.test(name=name, key=key):
            answer = browser.get(address(name, key, keys))
            assert answer.status_code == answers[role]
            if answer.status_code == 403:
                assert "This page is for" in answer.content.decode()


@pytest.mark.parametrize("role", ["borrower", "maintainer"])
def test_a_wrong_role_sends_nothing_either(signed_in, people, keys, role, subtests):
    browser = signed_in(people[role])

    for name, key, answers in PAGES:
        if answers["maintainer"] == 403:
            with subtests.test(name=name, key=key):
                assert browser.post(address(name, key, keys), {"name": "Mine now"}).status_code == 403


def test_a_stranger_is_sent_to_sign_in_and_comes_back(client, keys, subtests):
    for name, key, _answers in PAGES:
        there = address(name, key, keys)
        for answer in (client.get(there), client.post(there)):
            with subtests.test(name=name, key=key):
                assert answer.status_code == 302
                assert answer["Location"] == f"{reverse('people:sign_in')}?next={there}"
