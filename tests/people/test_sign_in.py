"""Signing in: by address whatever its case, and refused in words that say what to do."""

import pytest
from django.urls import reverse

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
