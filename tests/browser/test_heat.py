"""A pasted heat log, from the paste to the labels and back from a bottle."""

from kitshare.pressdays.heat_models import HeatRecord
from tests.heated import heat_log


def test_a_pasted_log_is_asked_for_its_unit_judged_labelled_and_traced(
    at_a_phone, heated, sunniva, check_probe, monkeypatch, now
):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)
    check_probe()
    person = at_a_phone(sunniva)
    page = person.page
    person.go(f"/bookings/{heated.pk}/")
    person.follow("See them, or add a batch")
    person.follow("Paste them")
    page.get_by_label("The readings").fill(heat_log(top=74.0, unit="F").replace("Juice (F)", "Juice"))
    person.press("Look it over")

    person.sees("Are the temperatures Celsius or Fahrenheit?")
    person.sees("Answer the question first")
    page.get_by_label("°F").check()
    page.get_by_label("How many bottles").fill("48")
    person.press("Read it so")
    person.sees("and 74.0 °C, as the probe showed them")
    assert page.get_by_label("How many bottles").input_value() == "48"
    page.get_by_label("What kind").fill("0.75 L glass bottle")
    page.get_by_label("Litres in all").fill("34,5")
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    person.press("Save the heat record")

    person.sees("Held as recommended")
    person.sees("26.4 minutes without a break")
    person.sees("The probe is more than one degree off; its readings were corrected.")
    line = page.locator("svg .heat-line")
    assert line.bounding_box()["height"] > 60
    assert page.locator("svg .heat-hold").bounding_box()["width"] > 60
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    record = HeatRecord.objects.get()

    person.follow("Print labels")
    assert page.locator(".label").count() == 48
    page.emulate_media(media="print")
    assert not page.get_by_label("How many labels").is_visible()
    assert page.locator(".label").first.is_visible()
    page.emulate_media(media="screen")

    person.go("/heat/")
    page.get_by_label("Code on the bottle").fill(record.shown_code.lower())
    person.press("Find the batch")
    person.sees("Heron pasteuriser")
    person.follow("Batch 1 of the day")
    person.sees("Held as recommended")
