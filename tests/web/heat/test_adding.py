"""Typing, pasting and uploading a log, looking it over, and saving it: nothing sent is lost by a refusal."""

import time
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from kitshare.pressdays import heat_drafts, kinds
from kitshare.pressdays.heat_models import Came, HeatDraft, HeatRecord
from tests.heated import heat_log
from tests.web.page import Page

BATCH = {
    "number": "1",
    "filled_on": "2027-09-01",
    "bottles": "48",
    "container": "0.75 L glass bottle",
    "litres": "34,5",
    "save": "1",
}


@pytest.fixture
def village(signed_in, heated, sunniva):
    """Sunniva, signed in, with a booking that heats."""
    return signed_in(sunniva)


@pytest.fixture
def paste(village, heated):
    def paste_it(text):
        return village.post(f"/heat/bookings/{heated.pk}/paste/", {"text": text})

    return paste_it


@pytest.fixture
def look(village, paste):
    """Paste a text; what is sent to the page on which it is looked over."""

    def look_at(text, **typed):
        answer = paste(text)
        assert answer.status_code == 302, answer.content.decode()
        return village.post(answer.url, typed) if typed else village.get(answer.url)

    return look_at


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_a_pasted_log_is_looked_over_and_saved(village, look, probe, pasteuriser, heated):
    page = look(heat_log())
    assert Page(page.content.decode()).wrong == []
    for words in ("semicolons", "times of day", "°C", "56", "Juice (C)"):
        assert words in words_of(page)

    answer = look(heat_log(), **BATCH, pasteuriser=str(pasteuriser.pk), probe=str(probe.pk), ph="3.4")

    record = HeatRecord.objects.get()
    assert answer.url == f"/heat/records/{record.pk}/"
    assert (record.bottles, record.litres, record.came) == (48, Decimal("34.5"), Came.PASTED)
    assert (record.probe, record.pasteuriser, record.ph) == (probe, pasteuriser, Decimal("3.40"))
    assert record.found["delimiter"] == ";"


def test_the_unit_is_asked_where_nothing_says_it_and_never_guessed(village, paste, heated):
    text = heat_log().replace("Juice (C)", "Juice")
    address = paste(text).url

    refused = village.post(address, BATCH)
    assert refused.status_code == 422
    assert "Choose Celsius or Fahrenheit" in words_of(refused)
    assert 'value="34,5"' in words_of(refused)
    assert not HeatRecord.objects.exists()

    village.post(address, BATCH | {"unit": "C"})
    assert HeatRecord.objects.get().found["unit_marked"] is True


def test_fahrenheit_that_is_not_marked_is_asked_before_anything_can_be_shown(village, paste):
    text = heat_log(unit="F").replace("Juice (F)", "Juice")
    address = paste(text).url
    page = village.get(address)
    assert "Answer the question first" in words_of(page)

    village.post(address, BATCH | {"unit": "F"})
    assert HeatRecord.objects.get().is_held


def test_reading_it_with_an_answer_judges_nothing_that_was_typed_below(village, paste):
    address = paste(heat_log(unit="F").replace("Juice (F)", "Juice")).url
    typed = {name: value for name, value in BATCH.items() if name != "save"} | {"bottles": "many", "read": "1"}

    page = village.post(address, typed | {"unit": "F"})

    assert page.status_code == 200
    assert "Answer the question first" not in words_of(page)
    assert 'value="many"' in words_of(page)


def test_the_unit_of_time_is_asked(village, paste):
    text = "\n".join(["t;Juice (C)", *(f"{second};76.0" for second in range(0, 1500, 30))])
    address = paste(text).url
    assert "What are the times counted in?" in words_of(village.get(address))

    assert village.post(address, BATCH).status_code == 422
    village.post(address, BATCH | {"time_unit": "seconds"})

    record = HeatRecord.objects.get()
    assert record.found["time_form"] == "seconds"
    assert record.told["longest"]["end"] == pytest.approx(24.5)


def test_the_column_is_chosen_where_several_hold_temperatures(village, paste):
    rows = [f"13:{minute:02};{82.0};{76.0}" for minute in range(30)]
    address = paste("\n".join(["time;bath C;juice C", *rows])).url
    page = words_of(village.get(address))
    assert "Which column is the juice?" in page

    village.post(address, BATCH | {"column": "1"})
    assert HeatRecord.objects.get().told["highest_c"] == 82.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Paste the readings here."),
        ("hello", "No line has a time and a temperature."),
        ("13:00 20\n13:05 banana\n13:10 30\n13:15 40", "Line 2: “banana” is not a temperature."),
        ("13:00 20\n13:05 300\n13:10 30\n", "300 is no temperature of juice"),
        ("13:00 20\n13:05 -40\n13:10 30\n", "-40 is no temperature of juice"),
        ("13:10 20\n13:05 30\n13:15 40\n", "The time runs backwards by 5 minutes."),
    ],
)
def test_what_cannot_be_read_is_refused_beside_the_field_and_stays_there(paste, text, words):
    answer = paste(text)

    assert answer.status_code == 422
    assert words in words_of(answer)
    assert text.split("\n")[-1] in answer.content.decode()
    assert Page(answer.content.decode()).wrong == []
    assert not HeatDraft.objects.exists()


@pytest.mark.parametrize(
    ("text", "name", "words"),
    [
        ("23:50 76\n23:55 76\n00:05 76\n00:10 76", "Midnight", "crossed 1 times"),
        ("13:00 76\n13:05 76\n13:05 70\n13:10 76", "Repeated times", "1 reading has the time of another"),
        (
            "2027-10-31 01:50:00;76\n2027-10-31 01:58:00;76\n2027-10-31 01:02:00;76\n2027-10-31 01:08:00;76",
            "Change of clocks",
            "went back an hour",
        ),
    ],
)
def test_what_was_seen_through_is_told(look, text, name, words):
    page = words_of(look(text))

    assert name in page
    assert words in page


def upload(village, heated, data, name="log.csv"):
    return village.post(
        f"/heat/bookings/{heated.pk}/upload/", {"file": SimpleUploadedFile(name, data, content_type="text/csv")}
    )


def test_a_file_is_kept_until_it_is_saved(village, heated):
    answer = upload(village, heated, heat_log().replace(".", ",").encode("utf-16"))
    page = words_of(village.get(answer.url))
    assert "comma, such as 75,2" in page

    village.post(answer.url, BATCH)
    record = HeatRecord.objects.get()
    assert (record.came, record.file_name) == (Came.UPLOADED, "log.csv")
    # The draft is its own record now: whoever comes back to it is led there, and saving twice saves once.
    assert village.post(answer.url, BATCH).url == f"/heat/records/{record.pk}/"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "There is nothing in this log."),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "This is not text"),
        (b" \n \n", "There is nothing in this log."),
    ],
)
def test_a_file_of_nothing_or_of_no_text_is_refused_by_its_field(village, heated, data, words):
    answer = upload(village, heated, data)

    assert answer.status_code == 422
    assert words in words_of(answer)
    assert "The logger" in words_of(answer)


def test_a_file_that_is_no_log_as_it_stands_is_shown_to_be_mended(village, heated):
    answer = upload(village, heated, b"13:00 20\n13:05 banana\n13:10 30\n13:15 40")

    assert answer.status_code == 422
    assert "Here is what is in it" in words_of(answer)
    assert "13:05 banana" in answer.content.decode()
    assert f'action="/heat/bookings/{heated.pk}/paste/"' in answer.content.decode()


def test_rows_are_typed_and_those_left_empty_passed_over(village, heated):
    typed = {"unit": "F", "times": "clock", "rows": "12"}
    for row, (at, degrees) in enumerate([("13.00", "170"), ("1305", "170,5"), ("13:09", "171")], start=2):
        typed |= {f"time-{row}": at, f"degrees-{row}": degrees}

    answer = village.post(f"/heat/bookings/{heated.pk}/type/", typed | {"look": "1"})

    page = words_of(village.get(answer.url))
    assert answer.status_code == 302
    assert "Answer the question" not in page
    assert "76.7 and 77.2 °C" in page


@pytest.mark.parametrize(
    ("rows", "field", "words"),
    [
        ([("13:00", ""), ("13:05", "76")], "degrees-1", "A temperature is missing"),
        ([("", "76"), ("13:05", "76")], "time-1", "A time is missing"),
        ([("soon", "76"), ("13:05", "76")], "time-1", "Write the time as hours and minutes"),
        ([("13:00", "warm"), ("13:05", "76")], "degrees-1", "Enter a number"),
        ([("13:00", "76"), ("12:55", "76")], "time-2", "The time runs backwards by 5 minutes."),
        ([("13:00", "76"), ("13:05", "300")], "degrees-2", "300 is no temperature of juice"),
    ],
)
def test_a_row_that_is_wrong_says_so_beside_it_and_stays(village, heated, rows, field, words):
    typed = {"unit": "C", "times": "clock", "rows": "12"}
    for row, (at, degrees) in enumerate(rows, start=1):
        typed |= {f"time-{row}": at, f"degrees-{row}": degrees}

    answer = village.post(f"/heat/bookings/{heated.pk}/type/", typed)

    assert answer.status_code == 422
    assert words in answer.context["form"].errors[field][0]
    assert rows[1][0] in words_of(answer)
    assert Page(answer.content.decode()).wrong == []


def test_no_rows_at_all_is_told(village, heated):
    answer = village.post(f"/heat/bookings/{heated.pk}/type/", {"unit": "C", "times": "clock", "rows": "12"})

    assert "There is nothing in this log." in words_of(answer)


def test_more_rows_keep_what_was_typed_and_judge_nothing(village, heated):
    typed = {"rows": "12", "time-1": "soon", "degrees-1": "76", "more": "1"}

    answer = village.post(f"/heat/bookings/{heated.pk}/type/", typed)

    assert answer.status_code == 200
    assert 'value="soon"' in words_of(answer)
    assert "time-24" in words_of(answer)
    assert village.post(f"/heat/bookings/{heated.pk}/type/", {"rows": "9" * 40, "more": "1"}).status_code == 200


def test_a_refused_batch_keeps_all_that_was_typed(look):
    page = look(heat_log(), **(BATCH | {"bottles": "0", "filled_on": "2027-08-01", "note": "By lantern."}))

    assert page.status_code == 422
    assert "By lantern." in words_of(page)
    assert HeatDraft.objects.count() == 1


def test_a_day_outside_the_booking_is_refused_by_its_field(look):
    page = look(heat_log(), **(BATCH | {"filled_on": "2027-08-01"}))

    assert "The bottles were filled between Wed 1 Sep 2027" in page.context["form"].errors["filled_on"][0]


def test_litres_follow_from_bottles_of_a_known_kind(village, look, perpetua, now):
    kinds.add_starter_kinds(by=perpetua, at=now)
    look(heat_log(), **(BATCH | {"container": "0.75 L glass bottle, re-used", "litres": ""}))

    assert HeatRecord.objects.get().litres == Decimal("35.9")  # 48 bottles of 0.78 L to the brim, filled to 0.96
    refused = look(heat_log(), **(BATCH | {"number": "2", "litres": ""}))
    assert "Give the litres" in words_of(refused)


def test_a_draft_belongs_to_whoever_sent_it_and_goes_after_a_week(paste, signed_in, perpetua, now):
    address = paste(heat_log()).url

    assert signed_in(perpetua).get(address).status_code == 404
    assert heat_drafts.sweep(at=now) == 0
    assert heat_drafts.sweep(at=now.replace(day=9)) == 1
    assert not HeatDraft.objects.exists()


def test_a_log_can_be_forgotten(village, paste, heated):
    address = paste(heat_log()).url
    assert "Sent, but not saved" in words_of(village.get(f"/heat/bookings/{heated.pk}/"))

    village.post(f"{address}forget/")

    assert not HeatDraft.objects.exists()


def test_a_log_that_was_saved_is_not_called_unsaved(village, paste, heated):
    paste(heat_log())
    address = paste(heat_log()).url

    village.post(address, BATCH)

    shown = village.get(f"/heat/bookings/{heated.pk}/").content.decode()
    assert "Sent, but not saved" in shown
    assert address not in shown


def test_another_record_takes_the_place_of_an_older_one(village, record_heat, heated):
    old = record_heat(heat_log(hold=8))
    assert village.get(f"/heat/records/{old.pk}/replace/").status_code == 200
    address = village.post(
        f"/heat/bookings/{heated.pk}/paste/?replaces={old.pk}", {"text": heat_log(start=16 * 60)}
    ).url
    assert old.shown_code in words_of(village.get(address))

    refused = village.post(address, BATCH)
    assert "Say why it replaces" in words_of(refused)
    village.post(address, BATCH | {"why_replaced": "Heated again."})

    new = HeatRecord.objects.standing().get()
    assert (new.code, new.replaces) == (old.code, old)
    assert "This record was replaced." in words_of(village.get(f"/heat/records/{old.pk}/"))


def test_strangers_add_nothing(signed_in, heated, leilani, teodor):
    assert signed_in(leilani).get(f"/heat/bookings/{heated.pk}/paste/").status_code == 404
    answer = signed_in(teodor).post(f"/heat/bookings/{heated.pk}/paste/", {"text": heat_log()})
    assert answer.url == f"/heat/bookings/{heated.pk}/"
    assert not HeatDraft.objects.exists()


@pytest.mark.one_engine
@pytest.mark.no_cover
def test_two_hundred_thousand_rows_are_taken_within_seconds(village, heated):
    """A logger that ran for two days at one reading a second: sent, saved and looked at."""
    rows = "\n".join(f"{second};{76 + second % 7 / 10:.1f}" for second in range(200_000))
    began = time.process_time()  # of this process: what else the machine does says nothing
    address = upload(village, heated, f"seconds;juice C\n{rows}".encode()).url
    answer = village.post(address, BATCH)
    page = village.get(answer.url)
    took = time.process_time() - began

    assert page.status_code == 200
    assert "Held as recommended" in words_of(page)
    assert len(page.content) < 60_000
    assert took < 10


def test_the_day_of_the_batch_is_offered(look):
    page = look(heat_log())

    assert page.context["form"].initial["filled_on"] == date(2027, 9, 1)


def test_an_answer_that_cannot_be_right_is_refused_and_another_one_taken(village, paste):
    address = paste("\n".join(f"13:{minute:02};{165}" for minute in range(40))).url

    for typed in (BATCH | {"unit": "C"}, {"unit": "C", "read": "1"}):
        page = village.post(address, typed)
        assert "165 is no temperature of juice" in words_of(page)
        assert "Read it so" in words_of(page)
    assert not HeatRecord.objects.exists()
    village.post(address, BATCH | {"unit": "F"})
    assert HeatRecord.objects.get().told["highest_c"] == pytest.approx(73.9, abs=0.05)


def test_only_a_record_that_stands_in_this_booking_is_replaced(village, record_heat, heated, signed_in, teodor):
    old = record_heat()
    record_heat(replaces=old, why_replaced="Heated again.")

    for key in (old.pk, "0", "9" * 40, "x"):
        assert village.get(f"/heat/bookings/{heated.pk}/paste/?replaces={key}").status_code == 404
    assert village.get(f"/heat/records/{old.pk}/replace/").status_code == 404
    newer = HeatRecord.objects.standing().get()
    assert signed_in(teodor).get(f"/heat/records/{newer.pk}/replace/").url == f"/heat/records/{newer.pk}/"


def test_a_batch_number_taken_meanwhile_is_told_by_its_field(village, paste, record_heat):
    address = paste(heat_log()).url
    record_heat()

    page = village.post(address, BATCH)

    assert "Batch 1 is recorded already" in page.context["form"].errors["number"][0]
