"""Asking for machines, page by page, and what a person sees who is refused."""

import html
import re

import pytest
from django.urls import reverse

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.outbox.models import Message
from kitshare.people.models import Village
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db

NEW = "/bookings/new/"


def words(answer):
    return html.unescape(answer.content.decode())


def carried(answer):
    """What a page carries along in hidden fields."""
    fields = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', answer.content.decode())
    data = {}
    for name, value in fields:
        data.setdefault(name, []).append(html.unescape(value))
    return data


def test_the_form_says_what_to_do_before_anything_is_ticked(signed_in, sunniva, sorrelhythe, mill, season):
    answer = signed_in(sunniva).get(NEW)

    assert answer.status_code == 200
    assert "Tick the machines first" in words(answer)
    assert "Heron mill" in words(answer)


def test_free_weekends_are_shown_for_the_machines_ticked_and_what_was_typed_stays(send, typed, ask):
    ask()  # has Sat 11 Sep

    answer = send(typed(deed="weekends", fruit_amount="-", note="Mind the step."))

    text = words(answer)
    assert "Sat 4 Sep to Mon 6 Sep" in text
    assert "Sat 18 Sep to Mon 20 Sep" in text
    assert 'value="2027-09-11/2027-09-13"' not in text
    assert "Mind the step." in text
    assert "There is a problem" not in text


def test_a_booking_is_looked_over_then_sent_and_says_what_happens_next(send, typed, client):
    looked = send(typed())
    assert looked.status_code == 200
    assert not Booking.objects.exists()
    assert "Sat 11 Sep" in words(looked)
    assert "320" in words(looked)

    answer = client.post(NEW, carried(looked) | {"deed": "send"}, follow=True)

    booking = Booking.objects.get()
    assert answer.redirect_chain == [(reverse("bookings:show", args=[booking.pk]), 302)]
    assert "A coordinator agrees or declines it" in words(answer)
    assert booking.period == september(11, 13)


def test_the_juice_to_expect_is_looked_over_too_and_is_that_of_the_plan(send, typed, client):
    # 20 crates of 16 kg, by the published range of 0.40 to 0.70 L/kg.
    expected = "Between 128\N{NO-BREAK SPACE}litres and 224\N{NO-BREAK SPACE}litres, nine days in ten"

    looked_over = words(send(typed()))
    sent = send(typed(deed="send"))
    booked = words(client.get(sent["Location"]))

    assert f"{expected}." in looked_over
    assert "no press day of this scheme is recorded yet" in looked_over
    assert f"{expected};" in booked


def test_going_back_from_looking_over_keeps_everything(send, typed, client, mill):
    looked = send(typed(note="Two ladders.\nOne is short."))

    answer = client.post(NEW, carried(looked) | {"deed": "edit"})

    assert "Two ladders." in words(answer)
    assert 'value="2027-09-11"' in words(answer)
    assert re.search(rf'name="machines" value="{mill.pk}" checked', words(answer))


def test_a_double_tap_is_one_booking_and_both_taps_lead_to_it(send, typed):
    first = send(typed(deed="send"))
    second = send(typed(deed="send"))

    booking = Booking.objects.get()
    assert first["Location"] == second["Location"] == reverse("bookings:show", args=[booking.pk])
    assert not Message.objects.exists()  # there is no coordinator yet to tell


def test_a_weekend_is_chosen_with_one_tap(send, typed):
    send(typed(spell="2027-09-18/2027-09-20", out_on="", back_on="", deed="send"))

    assert Booking.objects.get().period == september(18, 20)


def test_a_whole_kit_is_ticked_at_once(send, typed, heron, mill, press, pasteuriser):
    send(typed(machines=[], kits=[str(heron.pk)], deed="send"))

    assert set(Booking.objects.get().machines.all()) == {mill, press, pasteuriser}


def test_taken_days_say_who_has_them_and_one_tap_goes_on_with_all_else(send, typed, client, ask, fennerlow, leilani):
    ask(village=fennerlow, borrower=leilani, by=leilani)

    answer = send(typed(note="Mind the step.", deed="send"))

    assert answer.status_code == 409
    assert "Heron mill: with Fennerlow from Sat 11 Sep to Mon 13 Sep." in words(answer)
    spells = re.findall(r'name="instead" value="([^"]+)"', words(answer))
    assert spells == ["2027-09-08/2027-09-10", "2027-09-14/2027-09-16", "2027-09-07/2027-09-09"]

    looked = client.post(NEW, carried(answer) | {"instead": spells[1]})
    assert "Nothing is sent yet." in words(looked)
    assert "Mind the step." in words(looked)
    client.post(NEW, carried(looked) | {"deed": "send"})

    assert Booking.objects.filter(village__name="Sorrelhythe").get().period == september(14, 16)


def test_from_taken_days_one_can_go_back_to_the_form(send, typed, client, ask, fennerlow, leilani):
    ask(village=fennerlow, borrower=leilani, by=leilani)
    answer = send(typed(note="Mind the step."))

    form = client.post(NEW, carried(answer) | {"deed": "edit"})

    assert "Mind the step." in words(form)
    assert 'value="2027-09-11"' in words(form)


BAD_INPUT = [
    ({"fruit_amount": "-5"}, "Give the fruit as a number above 0."),
    ({"fruit_amount": "0"}, "Give the fruit as a number above 0."),
    ({"fruit_amount": "1e9"}, "That is more fruit than a village brings."),
    ({"fruit_amount": "9" * 400}, "That is more fruit than a village brings."),
    ({"fruit_amount": "1e999999"}, "That is more fruit than a village brings."),
    ({"fruit_amount": "1e-999999"}, "One decimal is enough"),
    ({"fruit_amount": "19999", "fruit_unit": "sack"}, "at most 20,000 kilograms"),
    ({"fruit_amount": "plenty"}, "Give the fruit as a number, such as 20 or 12.5."),
    ({"fruit_amount": "NaN"}, "Give the fruit as a number, such as 20 or 12.5."),
    ({"fruit_amount": "Infinity"}, "Give the fruit as a number, such as 20 or 12.5."),
    ({"fruit_amount": "1,200"}, "Write thousands without a comma"),
    ({"fruit_amount": "12.55"}, "One decimal is enough"),
    ({"fruit_amount": ""}, "Say how much fruit you expect."),
    ({"fruit_amount": "\x00"}, "Give the fruit as a number"),
    ({"fruit_unit": "barrel"}, "Select a valid choice"),
    ({"fruit_unit": "bushel"}, "This scheme has not said what a bushel weighs."),
    ({"back_on": "2027-09-11"}, "It comes back after it goes out"),
    ({"back_on": "2027-09-10"}, "It comes back after it goes out"),
    ({"out_on": ""}, "Choose a weekend, or give the day it goes out."),
    ({"out_on": "soon"}, "Write the day as year-month-day"),
    ({"out_on": "2027-08-31"}, "Tue 31 Aug is past."),
    ({"out_on": "2027-12-01", "back_on": "2027-12-03"}, "Outside the season."),
    ({"out_on": "9999-12-30", "back_on": "9999-12-31"}, "Outside the season."),
    ({"out_on": "9999-12-31", "back_on": "10000-01-01"}, "Write the day as year-month-day"),
    ({"out_on": "0001-01-01", "back_on": "0001-01-02"}, "is past."),
    ({"back_on": "2027-10-30"}, "A booking lasts 21 days at most; this one has 49."),
    ({"spell": "2027-09-13/2027-09-11"}, "Select a valid choice"),
    ({"spell": "2027-99-99/2027-99-99"}, "Select a valid choice"),
    ({"spell": "<script>"}, "Select a valid choice"),
    ({"machines": []}, "Tick at least one machine."),
    ({"machines": ["999999"]}, "A machine you ticked is no longer lent."),
    ({"machines": ["1e3", "\x00", "'; --"]}, "A machine you ticked is no longer lent."),
    ({"kits": ["-1"]}, "A machine you ticked is no longer lent."),
    ({"for_whom": "1-999999"}, "Choose one of the villages shown."),
    ({"for_whom": ""}, "Choose a village."),
    ({"note": "x" * 2001}, "at most 2000 characters"),
    ({"key": "not a key"}, "Send the form once more."),
]


@pytest.mark.parametrize("deed", ["look_over", "send"])
def test_bad_input_is_told_by_the_field_and_what_was_typed_stays(send, typed, deed, subtests):
    for change, sentence in BAD_INPUT:
        fields = typed(**({"note": "Mind the step."} | change), deed=deed)

        answer = send(fields)

        with subtests.test(change=str(change)[:80]):
            assert answer.status_code == 200
            text = words(answer)
            assert "There is a problem" in text
            assert "<title>Error:" in text
            assert sentence in text
            assert fields["note"] in text
            assert not Booking.objects.exists()


def test_a_comma_is_read_as_a_decimal_point(send, typed):
    send(typed(fruit_amount="12,5", fruit_unit="kg", deed="send"))

    assert str(Booking.objects.get().fruit_kg) == "12.5"


def test_script_in_a_note_is_shown_as_text_on_every_page(send, typed, client):
    hostile = '"><script>alert(1)</script>'

    looked = send(typed(note=hostile))
    shown = client.post(NEW, carried(looked) | {"deed": "send"}, follow=True)
    listed = client.get("/bookings/")

    for answer in (looked, shown, listed):
        assert "<script>alert(1)" not in answer.content.decode()
    assert Booking.objects.get().note == hostile


def test_an_unknown_button_does_no_harm(send, typed):
    assert send(typed(deed="\x00")).status_code == 200
    assert send(typed(instead="nonsense")).status_code == 200
    assert not Booking.objects.exists()


def test_hostile_addresses_do_not_break_the_form(signed_in, sunniva, sorrelhythe, mill, season):
    answer = signed_in(sunniva).get(NEW, {"machines": ["x", str(mill.pk)], "out_on": "\x00", "spell": "]]", "key": "1"})

    assert answer.status_code == 200


def test_a_machine_set_aside_is_marked_and_refused_with_its_fault(send, typed, set_aside, mill, signed_in, sunniva):
    set_aside(mill)

    assert "The drive pin is bent." in words(signed_in(sunniva).get(NEW))
    answer = send(typed(deed="send"))

    assert "Set aside until it is mended and released: Heron mill" in words(answer)
    assert not Booking.objects.exists()


def test_a_retired_machine_is_not_offered_nor_taken(send, typed, mill, press, today):
    Machine.objects.filter(pk=mill.pk).update(retired_on=today)

    answer = send(typed(deed="send"))

    assert "A machine you ticked is no longer lent." in words(answer)
    assert "Heron mill" not in words(answer)


def test_without_a_season_the_form_says_so(send, typed, season):
    season.delete()

    assert "There is no season yet." in words(send(typed()))


def test_a_borrower_cannot_ask_for_another_village(send, typed, fennerlow, leilani):
    answer = send(typed(for_whom=f"{fennerlow.pk}-{leilani.pk}", deed="send"))

    assert "Choose one of the villages shown." in words(answer)
    assert "Fennerlow" not in words(answer)


def test_a_coordinator_books_for_any_village_and_says_who_signs(send, typed, perpetua, sunniva):
    send(typed(deed="send"), by=perpetua)

    assert Booking.objects.get().borrower == sunniva
    assert "Sunniva" in Message.objects.get().to_name


def test_a_borrower_without_a_village_is_told_whom_to_ask(signed_in, sunniva):
    assert "You do not sign for a village yet" in words(signed_in(sunniva).get(NEW))


def test_a_village_that_has_left_is_not_offered(signed_in, sunniva, sorrelhythe, today):
    Village.objects.update(left_on=today)

    assert "You do not sign for a village yet" in words(signed_in(sunniva).get(NEW))


def test_a_maintenance_volunteer_does_not_book(signed_in, teodor):
    answer = signed_in(teodor).get(NEW)

    assert answer.status_code == 403
    assert "Ask a coordinator to book for you." in words(answer)


def test_times_are_filled_in_as_usual_shown_before_they_are_sent_and_kept(send, typed, client, signed_in, sunniva):
    begun = words(signed_in(sunniva).get(NEW))
    looked = send(typed(out_time="13:15", back_time=""))
    client.post(NEW, carried(looked) | {"deed": "send"})

    assert 'value="10:00"' in begun
    assert "Sat 11 Sep, 13:15" in words(looked)
    assert "Mon 13 Sep, 09:00" in words(looked)
    booking = Booking.objects.get()
    assert (str(booking.out_time), str(booking.back_time)) == ("13:15:00", "09:00:00")


def test_a_time_that_is_none_is_refused_beside_its_field_and_stays(send, typed):
    answer = send(typed(out_time="half nine"))

    assert "Write the time as hours and minutes, such as 09:30." in words(answer)
    assert 'value="half nine"' in words(answer)


def test_a_time_before_the_machines_are_back_is_refused_beside_its_field(send, typed, heron, ask, fennerlow, leilani):
    heron.care_days = 0
    heron.save()
    ask(village=fennerlow, borrower=leilani, by=leilani, period=september(9, 11))

    answer = send(typed(out_time="08:00"))

    assert "Fennerlow brings Heron mill back on Sat 11 Sep at 09:00." in words(answer)
    assert 'href="#id_out_time"' in words(answer)


def test_where_only_cleaning_stands_in_the_way_a_relay_can_be_wished_for(send, typed, client, ask, fennerlow, leilani):
    ask(village=fennerlow, borrower=leilani, by=leilani)
    wish = "We would take it straight from Fennerlow on Mon 13 Sep, as a relay."

    answer = send(typed(out_on="2027-09-13", back_on="2027-09-15", note="Mind the step."))
    looked = client.post(NEW, carried(answer) | {"instead": "2027-09-14/2027-09-16", "wish": wish})
    client.post(NEW, carried(looked) | {"deed": "send"})

    assert answer.status_code == 409
    assert f'name="wish" value="{wish}" checked' in words(answer)
    booking = Booking.objects.filter(village__name="Sorrelhythe").get()
    assert booking.period == september(14, 16)
    assert booking.note.splitlines() == ["Mind the step.", wish]


def test_a_village_that_has_the_machines_longer_hands_on_nothing(send, typed, ask, fennerlow, leilani):
    ask(village=fennerlow, borrower=leilani, by=leilani)

    answer = send(typed(out_on="2027-09-12", back_on="2027-09-15"))

    assert answer.status_code == 409
    assert 'name="wish"' not in words(answer)
