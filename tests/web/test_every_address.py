"""Whoever asks, for whatever address, with whatever typed: an answer, and never a breakage."""

import pytest
from django.utils import timezone

from kitshare.demonstration.story import tell
from kitshare.people.models import Member
from tests.web.addresses import Visitor, addresses, named

pytestmark = pytest.mark.django_db

WHO = {
    "stranger": None,
    "borrower": "sunniva@example.org",
    "maintenance volunteer": "teodor@example.org",
    "coordinator": "perpetua@example.org",
}
QUERIES = [
    "?page=abc&sort=--x&month=99",
    "?page=0&per_page=-5&sort=-&month=9999-12",
    "?page=99999999999999999999999&per_page=0&sort=pk&sort=-pk&month=0001-01",
    "?%00=%00&page=%00&sort=%00&stage=%00&q=%00&month=%00&next=//elsewhere.example&%ED%A0%80=%ED%A0%80",
    "?out_on=9999-12-31&back_on=0001-01-01&machines=9&machines=9999999999999999999999&fruit_amount=NaN&spell=9999-12-31/9999-12-31",
    "?yield_expected=1e999&since=2027-99-99&until=NaN&kind=%F0%9F%8D%8E&thing=-1",
]
TYPED = [
    "",
    "\x00",
    "-1",
    "1e999",
    "NaN",
    "9" * 40,
    "\ud800",
    "\u202eabc",
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
FIELDS = 12  # of a form are spoilt one by one; a sheet has a hundred of the same kind


@pytest.fixture(params=WHO)
def visitor(request, client):
    """Somebody in front of the demonstration, which has a booking of every kind."""
    tell(now=timezone.now())
    address = WHO[request.param]
    with Visitor(client) as somebody:
        # A deed may sign somebody out, as a new password does: what is asked next is asked signed in again.
        somebody.sign_in = lambda: address and client.force_login(Member.objects.get(email=address))
        somebody.sign_in()
        yield somebody


def test_no_address_breaks_and_no_link_leads_nowhere(visitor):
    reached = visitor.walk()

    for name, kinds in named().items():
        visitor.sign_in()
        tried = reached.get(name, [])[:1] + addresses(name, kinds)
        there = [address for address in tried if visitor.ask(address).status_code == 200]
        shown = there[0] if there else tried[0]
        assert not there or visitor.ask(shown, method="head").status_code == 200, f"{name} is not there to be looked up"
        for query in QUERIES if there else QUERIES[:1]:
            visitor.ask(shown + query)
        visitor.ask(shown + QUERIES[-1], headers={"HX-Request": "true"})
        for method in METHODS:
            visitor.ask(shown, method=method)

    assert visitor.broken == []
    assert visitor.dead_ends == []


def test_nothing_that_is_sent_breaks_an_address(visitor):
    reached = visitor.walk(of_each=1)

    for name, kinds in named().items():
        visitor.sign_in()
        for address in reached.get(name, []) + addresses(name, kinds)[-1:]:
            for kind, body in BODIES:
                visitor.ask(address, body, method="post", content_type=kind)

    assert visitor.broken == []


def test_nothing_typed_breaks_a_form(visitor):
    visitor.walk(of_each=2)

    for address, fields in visitor.forms.values():
        visitor.sign_in()
        for typed in TYPED:
            visitor.send(address, dict.fromkeys(fields, typed))
        for name in list(fields)[:FIELDS]:
            for typed in ("\x00", "9" * 40, "-1e999"):
                visitor.send(address, fields | {name: typed})

    assert visitor.broken == []


def test_the_tests_themselves_see_a_breakage(client, scheme, perpetua, monkeypatch):
    client.force_login(perpetua)
    monkeypatch.setattr("kitshare.web.home.views.render", lambda *_: 1 / 0)

    with Visitor(client) as visitor:
        visitor.ask("/")

    assert len(visitor.broken) == 1
    assert "ZeroDivisionError" in visitor.broken[0]


def test_the_list_of_addresses_is_whole():
    assert {"home:home", "bookings:show", "checks:photo", "upkeep:release", "season:feed_member"} <= named().keys()
