"""A coordinator's pages about relays, and what the pages of both bookings show."""

import html

import pytest
from django.urls import reverse

from kitshare.bookings.models import BookedDay, DayKind
from kitshare.bookings.relay_models import Relay
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(html.unescape(answer.content.decode()).split())


@pytest.fixture
def first(agreed):
    return agreed()


@pytest.fixture
def second(first, ask, fennerlow, leilani):
    return ask(village=fennerlow, borrower=leilani, by=leilani, period=september(14, 16))


@pytest.fixture
def filled(first, second):
    def filled(**changes):
        first.refresh_from_db()
        second.refresh_from_db()
        fields = {
            "first": f"{first.pk}-{first.revision}",
            "meet_time": "08:30",
            "meet_at": "Barn by the standpipe",
            "carried_by": "Sorrelhythe",
            "back_on": "2027-09-16",
            "revision": second.revision,
        }
        return fields | changes

    return filled


@pytest.fixture
def arranged(signed_in, perpetua, second, filled):
    signed_in(perpetua).post(reverse("bookings:relay_new", args=[second.pk]), filled())
    return Relay.objects.with_bookings().get()


def test_a_relay_is_offered_on_the_page_of_the_later_booking_to_a_coordinator(
    signed_in, perpetua, leilani, first, second
):
    offer = reverse("bookings:relay_new", args=[second.pk])

    shown = [
        offer in words(signed_in(member).get(reverse("bookings:show", args=[second.pk])))
        for member in (perpetua, leilani)
    ]

    assert shown == [True, False]


def test_the_form_begins_with_the_nearest_booking_and_its_time(signed_in, perpetua, first, second):
    page = words(signed_in(perpetua).get(reverse("bookings:relay_new", args=[second.pk])))

    assert "Sorrelhythe, done on Mon 13 Sep at 09:00 (agreed)" in page
    assert 'name="meet_time" value="09:00"' in page
    assert 'name="back_on" value="2027-09-16"' in page


def test_arranged_it_stands_on_both_bookings(signed_in, perpetua, sunniva, leilani, arranged, first, second):
    for member, booking, step in (
        (sunniva, first, "Sorrelhythe hands on to Fennerlow"),
        (leilani, second, "On Mon 13 Sep at 08:30 take it on from Sorrelhythe, and do the relay check together."),
    ):
        page = words(signed_in(member).get(reverse("bookings:show", args=[booking.pk])))
        assert step in page
        assert "Barn by the standpipe" in page
        assert "Who carries it" in page
        assert "The guard is on and the plug is out before anybody lifts; two people lift." in page


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"meet_time": ""}, "meet_time", "Say at what time they meet."),
        ({"meet_at": " "}, "meet_at", "Say where they meet."),
        ({"carried_by": ""}, "carried_by", "Say who carries it."),
        ({"first": ""}, "first", "Choose the village that hands it on."),
        ({"first": "999-1"}, "first", "That booking can hand on nothing any more."),
        ({"back_on": "2027-09-13"}, "back_on", "It comes back after they meet: choose a later day."),
        ({"back_on": "soon"}, "back_on", "Write the day as year-month-day"),
        ({"back_on": "2028-01-10"}, "back_on", "Outside the season."),
    ],
)
def test_what_is_wrong_is_said_by_its_field_and_all_else_stays(
    signed_in, perpetua, second, filled, changes, field, sentence
):
    answer = signed_in(perpetua).post(
        reverse("bookings:relay_new", args=[second.pk]), filled(meet_at="Old lime kiln") | changes
    )

    page = words(answer)
    assert not Relay.objects.exists()
    assert sentence in page
    assert f'href="#id_{field}"' in page
    assert "Old lime kiln" in page or "meet_at" in changes
    assert "<title>Error:" in page


def test_days_that_somebody_has_are_refused_in_words(signed_in, perpetua, second, filled, agreed):
    agreed(period=september(18, 20))

    answer = signed_in(perpetua).post(reverse("bookings:relay_new", args=[second.pk]), filled(back_on="2027-09-19"))

    assert answer.status_code == 409
    assert "Heron mill: with Sorrelhythe from Sat 18 Sep to Mon 20 Sep." in words(answer)


def test_a_booking_changed_meanwhile_is_said_and_sent_again_it_goes(signed_in, perpetua, second, filled, change):
    typed = filled()
    change(second, note="Mind the ford.")

    refused = signed_in(perpetua).post(reverse("bookings:relay_new", args=[second.pk]), typed)
    second.refresh_from_db()

    assert refused.status_code == 409
    assert "Note now: Mind the ford." in words(refused)
    assert f'name="revision" value="{second.revision}"' in words(refused)


def test_a_borrower_arranges_nothing(signed_in, leilani, second, filled):
    answer = signed_in(leilani).post(reverse("bookings:relay_new", args=[second.pk]), filled())

    assert answer.status_code == 403


def test_who_carries_where_and_when_can_be_changed(signed_in, perpetua, arranged, second):
    second.refresh_from_db()
    address = reverse("bookings:relay_change", args=[arranged.pk])
    begun = words(signed_in(perpetua).get(address))

    signed_in(perpetua).post(
        address, {"meet_time": "07:00", "meet_at": "Bridge", "carried_by": "Fennerlow", "revision": second.revision}
    )

    arranged.refresh_from_db()
    assert 'value="Barn by the standpipe"' in begun
    assert (arranged.meet_at, arranged.carried_by, str(arranged.second.out_time)) == ("Bridge", "Fennerlow", "07:00:00")


def test_undone_the_page_has_looked_for_days_after_the_care(signed_in, perpetua, arranged, first, second):
    address = reverse("bookings:relay_undo", args=[arranged.pk])
    begun = words(signed_in(perpetua).get(address))
    second.refresh_from_db()

    answer = signed_in(perpetua).post(
        address, {"out_on": "2027-09-14", "back_on": "2027-09-16", "revision": second.revision}
    )

    assert 'name="out_on" value="2027-09-14"' in begun
    assert answer.status_code == 302
    assert not Relay.objects.exists()
    assert BookedDay.objects.filter(booking=first, kind=DayKind.CARE).count() == 1


def test_undoing_it_on_the_care_day_is_refused_with_the_reason(signed_in, perpetua, arranged, second):
    second.refresh_from_db()

    answer = signed_in(perpetua).post(
        reverse("bookings:relay_undo", args=[arranged.pk]),
        {"out_on": "2027-09-13", "back_on": "2027-09-16", "revision": second.revision},
    )

    assert answer.status_code == 409
    assert "cleaning and drying after Sorrelhythe" in words(answer)
    assert Relay.objects.exists()


def test_calling_off_says_beforehand_that_the_relay_ends(signed_in, leilani, arranged, second):
    page = words(signed_in(leilani).get(reverse("bookings:call_off", args=[second.pk])))

    assert "The relay from Sorrelhythe to Fennerlow ends with it" in page
