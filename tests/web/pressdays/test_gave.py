"""The page on which a village writes down what its day gave."""

import re
from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import strip_tags

from kitshare.pressdays.record_models import PressDayRecord

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def later(monkeypatch, now):
    """Three weeks on, and the kit is still out: there are days left to write down."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + 21 * DAY)


def words(answer):
    return re.sub(r"\s+", " ", unescape(strip_tags(answer.content.decode())))


@pytest.fixture
def page(out_booking):
    return reverse("pressdays:gave", args=[out_booking.pk])


@pytest.fixture
def typed(mill, press, today):
    """What a phone sends: 300 kg, 65 litres fresh and 100 heated."""

    def typed(**changes):
        sent = {
            "day": today.isoformat(),
            "pressed_kg": "300",
            "litres_fresh": "65",
            "litres_frozen": "",
            "litres_heated": "100",
            "litres_to_ferment": "",
            "hours": "5,5",
            "helpers": "6",
            "machines": [str(mill.pk), str(press.pk)],
        }
        return {name: value for name, value in (sent | changes).items() if value is not None}

    return typed


def test_the_page_says_what_was_expected_and_asks_in_the_schemes_units(signed_in, sunniva, scheme, page):
    seen = words(signed_in(sunniva).get(page))

    assert "Of the 320 kg you asked with, between" in seen
    assert "no press day of this scheme is recorded yet" in seen
    assert "Fruit pressed (kg)" in seen
    scheme.units = "imperial"
    scheme.save()
    seen = words(signed_in(sunniva).get(page))
    assert "Fruit pressed (lb)" in seen
    assert "Heated (gallons)" in seen


def test_broken_bottles_are_written_down_shown_and_corrected(signed_in, sunniva, page, typed):
    browser = signed_in(sunniva)
    seen = words(browser.post(page, typed(reused_brought="160", reused_broken="4"), follow=True))
    again = browser.get(reverse("pressdays:gave_correct", args=[PressDayRecord.objects.get().pk])).content.decode()

    assert "4 of 160 broken, chipped or not clean" in seen
    assert 'name="reused_brought" value="160"' in again
    assert 'name="reused_broken" value="4"' in again


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"reused_brought": "160"}, "Say how many of them; 0 when none was. Or leave both out."),
        ({"reused_broken": "4"}, "Say of how many, or leave both out."),
        ({"reused_brought": "3", "reused_broken": "4"}, "That is more than the 3 that were brought."),
        ({"reused_brought": "20001", "reused_broken": "4"}, "Give a number from 0 to 20000."),
        ({"reused_brought": "3", "reused_broken": "few"}, "Give a number from 0 to 20000."),
    ],
)
def test_bottles_that_cannot_be_are_refused_and_what_was_typed_stays(
    signed_in, sunniva, page, typed, changes, sentence
):
    answer = signed_in(sunniva).post(page, typed(**changes))

    assert sentence in words(answer)
    assert all(f'name="{name}" value="{value}"' in answer.content.decode() for name, value in changes.items())
    assert not PressDayRecord.objects.exists()


def test_a_day_is_written_down_and_shown_with_its_yield_and_what_was_expected(signed_in, sunniva, page, typed, mill):
    answer = signed_in(sunniva).post(page, typed(), follow=True)

    assert answer.redirect_chain == [(page, 302)]
    seen = words(answer)
    assert "Written down. That is 0.55 litres from a kilogram. Thank you." in seen
    assert "165 litres from 300 kg of fruit. That is 0.55 litres from a kilogram." in seen
    assert "So much fruit was expected to give between 120 litres and 210 litres, nine days in ten." in seen
    assert "as expected" in seen
    record = PressDayRecord.objects.get()
    assert (record.litres_fresh, record.litres_heated, record.hours, record.helpers) == (65, 100, Decimal("5.5"), 6)
    assert mill in record.machines.all()


def test_pounds_and_gallons_are_kept_as_kilograms_and_litres_and_come_back_as_typed(
    signed_in, sunniva, scheme, page, typed
):
    scheme.units = "us"
    scheme.save()

    signed_in(sunniva).post(page, typed(pressed_kg="660.5", litres_fresh="17.25", litres_heated=""))

    record = PressDayRecord.objects.get()
    assert record.pressed_kg == Decimal("299.598")
    assert record.litres_fresh == Decimal("65.298")
    form = signed_in(sunniva).get(reverse("pressdays:gave_correct", args=[record.pk])).context["form"]
    assert (form["pressed_kg"].value(), form["litres_fresh"].value()) == ("660.5", "17.25")


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        (
            {"litres_heated": "400"},
            "litres_heated",
            "That is more juice than the fruit weighs. Look at both figures: the juice of all uses, and the fruit. "
            "465 litres of juice weigh 487 kg.",
        ),
        ({"litres_fresh": "", "litres_heated": "1"}, "pressed_kg", "That is hardly any juice for so much fruit."),
        ({"pressed_kg": ""}, "pressed_kg", "Say how much fruit was pressed; 0 when none was."),
        ({"pressed_kg": "500000"}, "pressed_kg", "Give a number from 0 to 20000."),
        ({"pressed_kg": "a lot"}, "pressed_kg", "Give a number from 0 to 20000."),
        ({"pressed_kg": "1e999999"}, "pressed_kg", "Give a number from 0 to 20000."),
        ({"hours": "30"}, "hours", "Give a number from 0.1 to 24."),
        ({"helpers": "0"}, "helpers", "Give a number from 1 to 200."),
        ({"day": "2027-10-01"}, "day", "The kit was not with you on that day."),
        ({"machines": ["9" * 30]}, "machines", "is not a valid value"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_what_was_typed_stays(
    signed_in, sunniva, page, typed, changes, field, said
):
    answer = signed_in(sunniva).post(page, typed(note="Rain at noon") | changes)

    assert said in " ".join(answer.context["form"].errors[field]).replace("\xa0", " ")
    seen = answer.content.decode()
    assert "<title>Error:" in seen
    assert "Rain at noon" in seen
    assert typed(**changes)["hours"] in seen
    assert not PressDayRecord.objects.exists()


def test_a_double_tap_is_one_record(signed_in, sunniva, page, typed):
    signed_in(sunniva).post(page, typed())
    signed_in(sunniva).post(page, typed())

    assert PressDayRecord.objects.count() == 1


def test_other_figures_for_the_same_day_lead_to_the_record_that_is_there(signed_in, sunniva, page, typed):
    signed_in(sunniva).post(page, typed())

    answer = signed_in(sunniva).post(page, typed(pressed_kg="310"))

    assert "Wed 1 Sep is recorded already, by Sunniva Okparadine." in words(answer)


def test_a_correction_shows_what_stood_and_what_stands_now(signed_in, sunniva, perpetua, record_day, typed, page):
    record = record_day()
    address = reverse("pressdays:gave_correct", args=[record.pk])

    form = signed_in(perpetua).get(address)
    assert "Written down by Sunniva Okparadine" in words(form)
    assert 'value="300"' in form.content.decode()
    answer = signed_in(perpetua).post(address, typed(pressed_kg="320", revision="1"), follow=True)

    assert answer.redirect_chain == [(page, 302)]
    assert "165 litres from 320 kg of fruit." in words(answer)
    second = signed_in(sunniva).post(address, typed(pressed_kg="310", revision="1"))
    assert "Perpetua Quillstone corrected this record since you opened it. Saved now: 320 kg pressed" in words(second)
    assert 'value="310"' in second.content.decode()
    signed_in(sunniva).post(address, typed(pressed_kg="310", revision=second.context["form"]["revision"].value()))
    assert PressDayRecord.objects.get().pressed_kg == 310


def test_a_record_is_taken_out_after_a_second_question(signed_in, sunniva, record_day, page):
    record = record_day()
    address = reverse("pressdays:gave_take_out", args=[record.pk])

    asked = signed_in(sunniva).get(address)
    assert "300 kg pressed, 165 L (65 drunk fresh, 100 heated)" in words(asked)
    answer = signed_in(sunniva).post(address, follow=True)

    assert answer.redirect_chain == [(page, 302)]
    assert not PressDayRecord.objects.exists()


def test_a_day_may_give_more_or_less_than_expected_or_nothing_at_all(signed_in, sunniva, record_day, page, today):
    record_day(litres_heated=Decimal(0))
    record_day(day=today + DAY, today=today + DAY, litres_heated=Decimal(180))
    record_day(
        day=today + 2 * DAY,
        today=today + 2 * DAY,
        pressed_kg=Decimal(0),
        litres_heated=Decimal(0),
        litres_fresh=Decimal(0),
    )

    seen = words(signed_in(sunniva).get(page))

    assert "Wed 1 Sep less than expected" in seen
    assert "Thu 2 Sep more than expected" in seen
    assert "Fri 3 Sep Nothing was pressed." in seen


def test_kinds_written_before_are_offered_once_whatever_their_case(signed_in, sunniva, record_day, page, today, later):
    record_day(fruit="Mixed windfalls")
    record_day(day=today + DAY, today=today + DAY, fruit="mixed WINDFALLS")

    answer = signed_in(sunniva).get(page)

    assert answer.context["kinds"] == ["mixed WINDFALLS"]


def test_others_read_it_or_do_not_see_it_at_all(signed_in, teodor, leilani, record_day, page, typed):
    record = record_day()

    seen = signed_in(teodor).get(page)
    assert "165 litres from 300 kg" in words(seen)
    assert "Correct it" not in words(seen)
    assert signed_in(teodor).post(page, typed()).status_code == 403
    assert signed_in(teodor).get(reverse("pressdays:gave_correct", args=[record.pk])).status_code == 403
    assert signed_in(leilani).get(page).status_code == 404
    assert signed_in(leilani).post(reverse("pressdays:gave_take_out", args=[record.pk])).status_code == 404


def test_a_booking_that_has_not_gone_out_says_so(signed_in, sunniva, booking, typed):
    page = reverse("pressdays:gave", args=[booking.pk])

    assert "The kit has not gone out with this booking" in words(signed_in(sunniva).get(page))
    assert signed_in(sunniva).post(page, typed()).status_code == 302
    assert not PressDayRecord.objects.exists()


def test_the_bookings_own_page_leads_there_and_shows_what_is_written(signed_in, sunniva, out_booking, record_day, page):
    show = reverse("bookings:show", args=[out_booking.pk])

    before = signed_in(sunniva).get(show)
    assert f'href="{page}">Write it down' in before.content.decode()
    record_day()

    assert "Wed 1 Sep: 165 litres from 300 kg, 0.55 litres from a kilogram" in words(signed_in(sunniva).get(show))


def test_many_days_cost_no_more_queries_than_one(signed_in, perpetua, record_day, page, today, later):
    browser = signed_in(perpetua)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            browser.get(page)
        return len(queries)

    record_day()
    one = asked()
    for days in range(1, 12):
        record_day(day=today + days * DAY, today=today + days * DAY)

    assert asked() == one
