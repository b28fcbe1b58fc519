"""The page on which somebody else is chosen to sign, and the pages that send there."""

import pytest
from django.urls import reverse

from kitshare.people.models import Member

pytestmark = pytest.mark.django_db


@pytest.fixture
def hamza(sorrelhythe) -> Member:
    member = Member.objects.create(name="Hamza Wetherlow", email="hamza@example.org", borrows=True)
    sorrelhythe.borrowers.add(member)
    return member


def test_another_is_chosen_on_the_page_that_the_booking_leads_to(signed_in, perpetua, agreed_booking, hamza):
    browser = signed_in(perpetua)
    address = reverse("bookings:sign_over", args=[agreed_booking.pk])
    offered = browser.get(reverse("bookings:show", args=[agreed_booking.pk])).content.decode()

    done = browser.post(address, {"borrower": hamza.pk, "revision": agreed_booking.revision}, follow=True)

    assert address in offered
    assert "Saved. Whom it concerns is told." in done.content.decode()
    agreed_booking.refresh_from_db()
    assert agreed_booking.borrower == hamza


def test_nothing_is_offered_where_nobody_else_signs(signed_in, perpetua, agreed_booking):
    page = signed_in(perpetua).get(reverse("bookings:show", args=[agreed_booking.pk])).content.decode()

    assert reverse("bookings:sign_over", args=[agreed_booking.pk]) not in page


@pytest.mark.parametrize("typed", [{}, {"borrower": "9" * 40}, {"borrower": "nobody", "revision": "x"}])
def test_what_is_not_a_choice_is_refused_beside_the_field(signed_in, perpetua, agreed_booking, hamza, typed):
    answer = signed_in(perpetua).post(reverse("bookings:sign_over", args=[agreed_booking.pk]), typed)

    assert answer.status_code == 200
    assert "<title>Error:" in answer.content.decode()


def test_an_old_page_is_told_what_changed_and_a_village_of_others_is_none_of_theirs(
    signed_in, perpetua, leilani, fennerlow, agreed_booking, hamza
):
    address = reverse("bookings:sign_over", args=[agreed_booking.pk])
    old = signed_in(perpetua).post(address, {"borrower": hamza.pk, "revision": 1})

    assert old.status_code == 409
    assert "changed after you opened it" in old.content.decode()
    assert f'value="{hamza.pk}"' in old.content.decode()
    assert signed_in(leilani).get(address).status_code == 404


def test_closing_the_account_of_one_who_signs_is_refused_by_the_field(signed_in, perpetua, sunniva, agreed_booking):
    address = reverse("people:member_change", args=[sunniva.pk])
    typed = {"name": sunniva.name, "email": sunniva.email, "telephone": "1", "borrows": "on"}

    page = signed_in(perpetua).post(address, typed | {"villages": [agreed_booking.village_id]}).content.decode()

    assert page.count("Sunniva Okparadine signs for bookings that are not over: Sorrelhythe, Wed 1 Sep 2027.") == 2
