"""Whoever asks, for whatever address, with whatever typed: an answer, and never a breakage; and every page is well made."""

import os
from functools import partial
from itertools import cycle

import pytest
from django.db import connection, transaction
from django.test import override_settings
from django.utils import timezone

from kitshare.demonstration.story import tell
from kitshare.people.models import Member
from tests.web.addresses import Visitor, addresses, named
from tests.web.page import Page

# Ten thousand requests, each of a page that other tests cover: counted in, they would take twice as long.
pytestmark = [pytest.mark.django_db, pytest.mark.no_cover, pytest.mark.usefixtures("asked_at_once")]

WHO = {
    "coordinator": "perpetua@example.org",
    "maintenance volunteer": "teodor@example.org",
    "borrower": "sunniva@example.org",
    "stranger": None,
}
QUERIES = [
    "?page=abc&per_page=-5&sort=--x&month=99&yield_expected=1e999&since=2027-99-99&until=NaN&kind=%F0%9F%8D%8E&thing=-1",
    "?page=99999999999999999999999&per_page=0&sort=pk&sort=-pk&month=9999-12&out_on=9999-12-31&back_on=0001-01-01"
    "&machines=9&machines=9999999999999999999999&fruit_amount=NaN&spell=9999-12-31/9999-12-31",
    "?%00=%00&page=%00&sort=%00&stage=%00&q=%00&month=%00&next=//elsewhere.example&%ED%A0%80=%ED%A0%80",
]
TYPED = [
    "",
    "\x00",
    "NaN",
    "9" * 40,
    "\ud800",
    "9999-12-31",
    "2027-02-30",
    "٣",
    "²",
    "<script>alert(1)</script>",
    "x" * 20_000,
]
BODIES = [
    ("application/json", b'{"not": "a form"}'),
    ("multipart/form-data; boundary=x", b"--x\r\nnonsense"),
    ("multipart/form-data", b"nonsense"),
    ("application/x-www-form-urlencoded", b"\xff\xfe=%ED%A0%80&deed=%00"),
]
METHODS = ("put", "delete", "patch", "options", "trace")
# Where time is short (`.ci/run`), the two engines share what is tried: the walks, and what is typed.
EACH_ONCE = os.environ.get("KITSHARE_PAGES_ONCE") == "yes"
TURNS = 3 if EACH_ONCE else 6  # of those a form is sent, each with something else in each field
FIELDS = 4  # of a form are spoilt one by one; a sheet has a hundred of the same kind


@pytest.fixture(scope="module")
def told(django_db_setup, django_db_blocker, tmp_path_factory):
    """The demonstration, which has a booking of every kind: told once, and taken back by the engine after the last test.

    Each test runs in a savepoint of its own within this transaction, so none sees what another did.
    """
    photos = tmp_path_factory.mktemp("photos")
    with django_db_blocker.unblock(), transaction.atomic():
        with override_settings(MEDIA_ROOT=photos):
            tell(now=timezone.now())
        yield photos
        transaction.set_rollback(True)


@pytest.fixture
def own_photos(told, settings):
    """The photos of the demonstration."""
    settings.MEDIA_ROOT = told


def visitors(client):
    """Each of WHO in front of the demonstration, one after the other."""
    for who, address in WHO.items():
        with Visitor(client) as somebody:
            somebody.start = "/" if address else "/people/sign-in/"
            # A deed may sign somebody out, as a new password does: what is asked next is asked signed in again.
            somebody.sign_in = (
                partial(client.force_login, Member.objects.get(email=address)) if address else client.logout
            )
            somebody.sign_in()
            yield who, somebody


# What the two in between may open, the coordinator opens too: it is spoilt by her and by a stranger, on both engines.
SPOILERS = {"coordinator", "stranger"}
WALKS = [
    who if who in SPOILERS else pytest.param(who, marks=pytest.mark.one_engine)
    for who in WHO
    if not (EACH_ONCE and who in SPOILERS and connection.vendor == "sqlite")
]


@pytest.mark.parametrize("who", WALKS)
def test_no_address_breaks_no_link_leads_nowhere_and_every_page_is_well_made(told, client, who):
    visitor = next(somebody for name, somebody in visitors(client) if name == who)
    reached = visitor.walk(visitor.start)
    pages = dict(visitor.pages)

    for name, kinds in named().items():
        visitor.sign_in()
        there = [address for address in reached.get(name, []) if address in pages][:1]
        made_up = addresses(name, kinds, of_nothing=bool(there))
        there += [address for address in made_up if visitor.ask(address).status_code == 200]
        shown = (there or made_up)[0]
        first, *more = QUERIES
        looked_up = visitor.ask(shown + first, method="head")  # what is there stays there, whatever is asked beside it
        assert not there or looked_up.status_code < 404, f"{name} is not there to be looked up"
        if who not in SPOILERS:
            continue
        for query, swapped_in in zip(more if there else (), (False, True), strict=False):
            visitor.ask(shown + query, headers={"HX-Request": "true"} if swapped_in else {})
        for method in METHODS:
            visitor.ask(shown, method=method)

    assert visitor.broken == []
    assert visitor.dead_ends == []
    assert {one: wrong for one, text in pages.items() if (wrong := Page(text).wrong)} == {}


@pytest.mark.one_engine
def test_nothing_that_is_sent_breaks_an_address(told, client):
    """Each address by those to whom it is open; what is closed to one is tried by the next."""
    broken, taken = [], set()

    for _who, visitor in visitors(client):
        reached = visitor.walk(visitor.start, of_each=1)
        for name, kinds in named().items():
            if name in taken:
                continue
            visitor.sign_in()
            for place, address in enumerate(reached.get(name, []) + addresses(name, kinds)[-1:]):
                for kind, body in BODIES[place % 2 :: 2]:
                    answer = visitor.ask(address, body, method="post", content_type=kind)
                    if visitor.start == "/" and answer.status_code not in {403, 404, 405}:
                        taken.add(name)
        broken += visitor.broken

    assert broken == []
    assert {"bookings:new", "bookings:change", "checks:return", "kits:depot_change"} <= taken


def test_nothing_typed_breaks_a_form(told, client):
    """Each form by the first who is shown it."""
    broken, tried = [], set()

    for _who, visitor in visitors(client):
        visitor.walk(visitor.start, of_each=2)
        for place, (address, fields) in visitor.forms.items():
            if place in tried:
                continue
            tried.add(place)
            visitor.sign_in()
            for turn in range(TURNS):
                # Of eleven each field of each form meets six (three an engine), and neighbours meet others.
                first = len(tried) + turn * 2 + (EACH_ONCE and connection.vendor == "postgresql")
                visitor.send(address, {name: TYPED[(first + at) % len(TYPED)] for at, name in enumerate(fields)})
            for name, typed in zip(list(fields)[:FIELDS], cycle(("9" * 40, "-1e999")), strict=False):
                visitor.send(address, fields | {name: typed})
        broken += visitor.broken

    assert broken == []
    assert {"bookings:new", "bookings:change", "checks:return", "kits:depot_change"} <= tried


def test_the_tests_themselves_see_a_breakage(told, client, monkeypatch):
    client.force_login(Member.objects.get(email=WHO["coordinator"]))
    monkeypatch.setattr("kitshare.web.home.views.render", lambda *_: 1 / 0)

    with Visitor(client) as visitor:
        visitor.ask("/")

    assert len(visitor.broken) == 1
    assert "ZeroDivisionError" in visitor.broken[0]


def test_the_list_of_addresses_is_whole():
    assert {"home:home", "bookings:show", "checks:photo", "upkeep:release", "season:feed_member"} <= named().keys()
