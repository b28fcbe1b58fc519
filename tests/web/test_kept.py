"""A form that was open too long is not lost: it comes back with all that was typed, to be sent once more."""

import pytest
from django.test import Client
from django.urls import reverse

from kitshare.upkeep.models import Fault
from tests.web.page import Page
from tests.world import PASSWORD

pytestmark = pytest.mark.django_db
OURS = {"Origin": "http://testserver"}
NOTE = 'The lid "sticks" & squeaks <b>'


@pytest.fixture
def strict():
    """A browser whose forms are held to their token, as they are outside tests."""
    return Client(enforce_csrf_checks=True)


@pytest.fixture
def report(mill, sunniva, strict):
    """Fill in a report of a fault, and lose what sends it before it is sent."""
    strict.force_login(sunniva)
    address = reverse("upkeep:report", args=[mill.pk])
    fields = Page(strict.get(address).content.decode()).fields
    return address, fields | {"note": NOTE, "severity": "looks_only", "part": ""}


def fields_of(answer):
    return Page(answer.content.decode()).fields


def test_who_was_signed_out_signs_in_and_sends_what_they_typed_once_more(strict, report, sunniva):
    address, typed = report
    strict.cookies.pop("sessionid")

    asked = strict.post(address, typed, headers=OURS)
    slip = strict.post(reverse("people:sign_in"), fields_of(asked) | {"username": sunniva.email, "password": "no"})
    door = fields_of(slip) | {"username": sunniva.email, "password": PASSWORD}
    again = strict.post(reverse("people:sign_in"), door)
    sent = strict.post(address, fields_of(again), headers=OURS)

    assert [asked.status_code, slip.status_code, again.status_code, sent.status_code] == [403, 200, 200, 302]
    assert f'action="{address}"' in again.content.decode()
    assert Fault.objects.get().note == NOTE


def test_who_signed_in_anew_in_another_tab_sends_what_they_typed_once_more(strict, report, sunniva):
    address, typed = report
    strict.cookies["csrftoken"] = "a" * 32

    stale = strict.post(address, typed, headers=OURS)
    sent = strict.post(address, fields_of(stale), headers=OURS)

    assert [stale.status_code, sent.status_code] == [403, 302]
    assert Fault.objects.get().note == NOTE


@pytest.mark.parametrize("headers", [{}, {"Origin": "http://elsewhere.example"}])
def test_a_form_on_a_page_of_somebody_else_is_not_offered_to_be_sent(strict, report, headers):
    address, typed = report

    refused = strict.post(address, typed | {"csrfmiddlewaretoken": "b" * 32}, headers=headers)

    assert refused.status_code == 403
    assert fields_of(refused).get("note") is None
    assert "Open its page again" in refused.content.decode()


def test_a_password_is_never_sent_back_to_a_page(strict, sunniva):
    strict.force_login(sunniva)
    typed = {"present": PASSWORD, "password": "a new secret of mine", "again": "a new secret of mine"}

    stale = strict.post(reverse("people:own_password"), typed, headers=OURS)
    strict.cookies.pop("sessionid")
    strict.get(reverse("people:sign_in"))
    token = {"csrfmiddlewaretoken": strict.cookies["csrftoken"].value}
    signed_out = strict.post(reverse("people:own_password"), typed | token, headers=OURS)

    assert [stale.status_code, signed_out.status_code] == [302, 302]


def test_what_the_door_kept_is_there_too_for_who_came_in_by_another_tab(strict, report, sunniva):
    address, typed = report
    strict.cookies.pop("sessionid")
    door = fields_of(strict.post(address, typed, headers=OURS))
    strict.force_login(sunniva)
    strict.cookies["csrftoken"] = "a" * 32

    again = strict.post(reverse("people:sign_in"), door | {"username": "x", "password": "y"}, headers=OURS)

    assert fields_of(again)["note"] == NOTE


def test_the_door_opened_in_a_second_tab_lets_through_who_is_in_already(strict, sunniva):
    strict.force_login(sunniva)

    stale = strict.post(reverse("people:sign_in"), {"username": "x", "password": "y"}, headers=OURS, follow=True)

    assert stale.redirect_chain[-1][0] == "/"


@pytest.mark.parametrize("kept", ["", "{", "3", "[3]", '["ab"]', '[["a"]]', "[" * 100_000, "null"])
def test_what_our_page_did_not_keep_is_not_sent_again(client, sunniva, kept):
    typed = {"username": sunniva.email, "password": PASSWORD, "kept": kept, "next": "//elsewhere.example/"}

    answer = client.post(reverse("people:sign_in"), typed)

    assert answer.status_code == 302
    assert "elsewhere" not in answer.content.decode() + answer.get("Location", "")
