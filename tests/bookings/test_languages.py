"""A notice is written in the language of whoever reads it, not of whoever did the deed."""

from decimal import Decimal

import pytest
from django.utils import translation

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing, fruit, offers, relays
from kitshare.bookings.models import ClosedKind
from kitshare.outbox.models import Message
from tests.bookings.conftest import september
from tests.bookings.test_relays import arrange, first, second
from tests.bookings.test_shifting import asked, shift, theirs, two
from tests.bookings.test_waiting import offer
from tests.bookings.waiters import WEEKEND, free, linnowby, taken, wait
from tests.languages import check_letters, two_languages

__all__ = ["arrange", "asked", "first", "free", "linnowby", "offer", "second", "shift", "taken", "theirs", "two"]
__all__ += ["two_languages", "wait"]

pytestmark = pytest.mark.django_db


@pytest.fixture(params=["en-gb", "de"])
def whoever_does_it(request, two_languages):
    """Whoever does the deed reads the one language or the other."""
    with translation.override(request.param):
        yield request.param


def test_who_signs_is_told_with_the_days_of_their_own_language(ask, sunniva, perpetua, now, today, settings):
    """Django itself knows the names of days in German: Saturday is "Sa"."""
    settings.LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
    sunniva.language = "de"
    sunniva.save(update_fields=["language"])
    booking = ask()

    bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)

    letters = Message.objects.filter(thread=f"booking:{booking.pk}")
    assert letters.get(key__startswith="booking-asked").subject.endswith("Sat 11 Sep")
    assert letters.get(key__startswith="booking-agreed").subject.endswith("Sa 11 Sep")


def test_what_changed_is_said_to_each_in_their_own_language(
    whoever_does_it, two_languages, ask, change, perpetua, sunniva, teodor, now
):
    two_languages(sunniva)
    teodor.coordinates = True
    teodor.save()
    booking = ask()
    change(booking, period=september(14, 16), note="Two trailers", by=sunniva)
    booking.refresh_from_db()
    fruit.change_fruit(booking=booking, fruit_amount=Decimal(300), fruit_unit="kg", by=teodor, at=now)

    two_languages(perpetua)
    booking.refresh_from_db()
    fruit.change_fruit(booking=booking, fruit_amount=Decimal(310), fruit_unit="kg", by=sunniva, at=now)

    check_letters("booking-changed")
    to_teodor = Message.objects.filter(key__startswith="booking-changed", to_name=teodor.name)
    assert "\n\nFruit now: 310 " in to_teodor.latest("pk").body


def test_bookings_that_are_shifted_say_so_to_each_in_their_own_language(
    whoever_does_it, two_languages, two, shift, sunniva
):
    two_languages(sunniva)

    shift(by_days=7)

    check_letters("booking-changed")


def test_a_relay_is_arranged_and_undone_in_the_language_of_each_village(
    whoever_does_it, two_languages, arrange, sunniva, leilani, perpetua, now, today
):
    two_languages(sunniva)
    relay = arrange()
    relays.undo_relay(
        relay=relay, period=september(14, 16), by=perpetua, at=now, today=today, revision=relay.second.revision
    )

    check_letters("booking-relay-arranged", "booking-relay-undone")
    said = Message.objects.get(key__startswith="booking-relay-undone", to_name=leilani.name).body
    assert "Sorrelhythe hands on to Fennerlow on Mon 13 Sep at 08:30" in said  # as it was, not as it is by now


def test_a_relay_that_ends_by_itself_says_so_in_the_language_of_the_other_village(
    whoever_does_it, two_languages, arrange, sunniva, leilani, now
):
    two_languages(leilani)
    relay = arrange()

    bookings.call_off(booking=relay.first, by=sunniva, reason="Hail.", at=now, revision=relay.first.revision)

    check_letters("booking-relay-arranged")
    assert Message.objects.get(key__startswith="booking-relay-undone", to_name=leilani.name).body.startswith("«")


@pytest.mark.parametrize("reader", ["leilani", "nobody"])
def test_why_an_offer_is_withdrawn_is_said_in_the_language_of_who_had_it(
    whoever_does_it, two_languages, offer, mill, leilani, now, reader, set_aside
):
    if reader == "leilani":
        two_languages(leilani)
    set_aside(mill)

    offers.settle(at=now)

    said = Message.objects.get(key__startswith="offer-withdrawn").body
    marked = "The reason: «Set aside until mended and released: Heron mill.»"
    assert (marked in said) == (reader == "leilani")
    assert ("«" in said) == (reader == "leilani")


def test_that_days_are_closed_is_said_in_the_language_of_whoever_they_were_offered_to(
    whoever_does_it, two_languages, offer, depot, leilani, perpetua, now, today
):
    two_languages(leilani)
    closed = {"first_day": WEEKEND.start, "last_day": WEEKEND.start, "reason": "Roof repairs", "machines": []}

    closing.close_days(kind=ClosedKind.DEPOT, depot=depot, by=perpetua, at=now, today=today, **closed)

    said = Message.objects.get(key__startswith="offer-withdrawn").body
    assert "The reason: «The days are closed: Roof repairs»" in said
