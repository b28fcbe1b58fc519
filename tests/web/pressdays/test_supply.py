"""Supply for the day: a page of a booking that adds up what its machines draw from one socket."""

import pytest
from django.urls import reverse

from kitshare.kits.models import Machine
from kitshare.people.models import Scheme
from tests.web.page import Page

pytestmark = pytest.mark.django_db


def page_of(answer) -> str:
    return answer.content.decode()


@pytest.fixture
def ask(signed_in, sunniva, agreed_booking, mill, press):
    Machine.objects.filter(pk=mill.pk).update(power_watts=2200)
    Machine.objects.filter(pk=press.pk).update(power_watts=0)
    browser = signed_in(sunniva)

    def ask_it(**typed):
        facts = {"socket_amps": "13", "protection_amps": "13", "volts": "230", "trip": "30"}
        facts |= {f"m{mill.pk}-runs": "on", f"m{mill.pk}-watts": "2200"}
        facts |= {"lead1-metres": "25", "lead1-mm2": "1.5", "lead1-ip": "5"}
        return browser.get(reverse("pressdays:supply", args=[agreed_booking.pk]), facts | typed if typed else None)

    ask_it.mill = mill
    return ask_it


def test_the_page_asks_by_what_is_known_of_the_machines(ask):
    page = page_of(ask())

    assert Page(page).wrong == []
    assert Page(page).fields[f"m{ask.mill.pk}-watts"] == "2200"
    assert "press runs from it" not in page  # it is worked by hand
    assert "While everything runs" not in page


def test_the_worked_example_is_added_up_and_nothing_is_called_free_of_danger(ask):
    """By hand from BS 7671, table 4F3B, quoted: 2200 W at 230 V over 25 m of 1.5 mm2 lose 7.65 V, 3.33 per cent."""
    page = page_of(ask(hoses="on"))

    assert "9.6 A" in page
    assert "7.7 V, 3.3 %" in page or "7.6 V, 3.3 %" in page
    assert "look at it" not in page
    assert " safe" not in page.partition("<main")[2].partition("</main")[0]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"amps": "13.1"}, "The machines draw 13.1 A, and the socket carries 13 A."),
        ({"protection_amps": "6"}, "the fuse or breaker holds 6 A"),
        ({"lead1-drum": "wound"}, "more than a wound drum carries, 5 A. Unwind it wholly."),
        ({"lead1-drum": "wound", "lead1-wound_amps": "10"}, "Lead 1 is on a wound drum"),
        ({"lead1-drum": "unwound", "lead1-unwound_amps": "8,5"}, "carries even unwound, 8.5 A"),
        ({"lead2-metres": "25", "lead2-mm2": "1.5"}, "6.65 per cent of the voltage is lost on the way, more than 5"),
        ({"trip": ""}, "There is no trip switch before it"),
        ({"trip": "100"}, "The trip switch is coarser than 30 mA"),
        ({"hoses": "on", "lead1-ip": "7"}, "Lead 1 is not known to be proof against jets"),
        ({"watts": ""}, "Nobody wrote down what Heron mill draws"),
    ],
)
def test_what_is_over_what_carries_it_is_said_in_words(ask, typed, words):
    named = {f"m{ask.mill.pk}-{name}" if name in {"amps", "watts"} else name: value for name, value in typed.items()}

    assert words in page_of(ask(**named))


def test_a_long_lead_without_a_trip_switch_is_said_where_british_rules_are_chosen(ask):
    words = "25 m of lead without a trip switch: 15 m is the most"

    before = page_of(ask(trip=""))
    Scheme.objects.update(electrical_rules="uk")

    assert words not in before
    assert words in page_of(ask(trip=""))


@pytest.mark.parametrize(
    "typed", [{"socket_amps": "0"}, {"volts": "400"}, {"lead1-metres": "long"}, {"lead1-mm2": "3"}]
)
def test_what_makes_no_sense_is_said_by_its_field_and_stays(ask, typed):
    page = page_of(ask(**typed))

    assert "There is a problem" in page
    assert "While everything runs" not in page
    assert Page(page).wrong == []


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"lead2-drum": "wound"}, "Give the metres of lead 2 too"),
        ({"lead1-metres": "0", "lead1-ip": "5"}, "Give the metres of lead 1 too"),
        ({"runs": ""}, "Tick at least one machine"),
    ],
)
def test_what_was_typed_is_not_left_out_unsaid(ask, typed, words):
    page = page_of(ask(**{f"m{ask.mill.pk}-runs" if name == "runs" else name: value for name, value in typed.items()}))

    assert words in page
    assert "While everything runs" not in page


def test_where_no_machine_has_a_plug_the_page_says_so_whatever_is_asked(ask):
    Machine.objects.update(power_watts=0)

    assert "No machine of this booking is known to have a plug." in page_of(ask(trip=""))


def test_whoever_may_not_see_a_booking_finds_nothing(signed_in, leilani, agreed_booking):
    assert signed_in(leilani).get(reverse("pressdays:supply", args=[agreed_booking.pk])).status_code == 404
