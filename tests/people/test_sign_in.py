"""Signing in: by address whatever its case, and refused in words that say what to do."""

import pytest
from django.urls import reverse

from kitshare.people.models import Member, Scheme
from kitshare.web.people.views import client_of
from tests.world import PASSWORD

pytestmark = pytest.mark.django_db


def test_the_address_may_be_typed_in_any_case(client, sunniva):
    answer = client.post(reverse("people:sign_in"), {"username": "SUNNIVA@example.org", "password": PASSWORD})

    assert answer.status_code == 302
    assert answer["Location"] == reverse("home:home")


def test_a_wrong_password_keeps_the_address_and_says_what_to_do(client, sunniva):
    answer = client.post(reverse("people:sign_in"), {"username": sunniva.email, "password": "no"})

    assert answer.status_code == 200
    assert "telephone the coordinator for a new password" in answer.content.decode()
    assert f'value="{sunniva.email}"' in answer.content.decode()


def test_a_stranger_is_sent_to_sign_in_and_comes_back(client, scheme):
    answer = client.get(reverse("bookings:list"))

    assert answer.status_code == 302
    assert answer["Location"] == f"{reverse('people:sign_in')}?next={reverse('bookings:list')}"


def test_after_five_wrong_passwords_the_page_says_until_when_to_wait(client, sunniva):
    typed = {"username": sunniva.email, "password": "no"}
    for _ in range(5):
        client.post(reverse("people:sign_in"), typed)

    answer = client.post(reverse("people:sign_in"), typed | {"password": PASSWORD})

    assert answer.status_code == 200
    assert "Too many tries went wrong. Wait until" in answer.content.decode()
    assert f'value="{sunniva.email}"' in answer.content.decode()


def test_a_right_password_forgets_the_wrong_ones(client, sunniva):
    typed = {"username": sunniva.email, "password": "no"}
    for _ in range(4):
        client.post(reverse("people:sign_in"), typed)
    client.post(reverse("people:sign_in"), typed | {"password": PASSWORD})
    client.logout()

    assert "do not belong together" in client.post(reverse("people:sign_in"), typed).content.decode()


def test_behind_a_proxy_the_address_is_the_one_the_proxy_wrote(settings, rf):
    forged = rf.post("/", headers={"x-forwarded-for": "203.0.113.9, 192.0.2.7"})

    assert client_of(forged) == "127.0.0.1"
    settings.BEHIND_TLS = True
    assert client_of(forged) == "192.0.2.7"


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)"]
)
def test_nobody_is_sent_elsewhere_after_signing_in(client, sunniva, elsewhere):
    page = client.get(reverse("people:sign_in"), {"next": elsewhere})
    answer = client.post(
        f"{reverse('people:sign_in')}", {"username": sunniva.email, "password": PASSWORD, "next": elsewhere}
    )

    assert elsewhere not in page.content.decode()
    assert answer["Location"] == reverse("home:home")


def test_whoever_was_going_somewhere_arrives_there(client, sunniva):
    going = f"{reverse('people:me')}?a=1"

    page = client.get(reverse("people:sign_in"), {"next": going})
    answer = client.post(reverse("people:sign_in"), {"username": sunniva.email, "password": PASSWORD, "next": going})

    assert f'name="next" value="{going}"' in page.content.decode()
    assert answer["Location"] == going


def test_a_member_without_an_address_cannot_sign_in(client, sunniva):
    Member.objects.update(email=None)

    for typed in ("", "None"):
        answer = client.post(reverse("people:sign_in"), {"username": typed, "password": PASSWORD})
        assert answer.status_code == 200
        assert "There is a problem" in answer.content.decode()


def test_a_link_signs_nobody_out(signed_in, sunniva):
    browser = signed_in(sunniva)

    assert browser.get(reverse("people:sign_out")).status_code == 405
    assert browser.get(reverse("people:me")).status_code == 200
    assert browser.post(reverse("people:sign_out"))["Location"] == reverse("people:sign_in")
    assert browser.get(reverse("people:me")).status_code == 302


def test_only_a_demonstration_names_its_accounts(client, scheme):
    assert "linnow-apples" not in client.get(reverse("people:sign_in")).content.decode()

    Scheme.objects.update(is_demonstration=True)
    page = client.get(reverse("people:sign_in")).content.decode()
    assert "linnow-apples" in page
    assert "every person, place and booking here is invented" in page
