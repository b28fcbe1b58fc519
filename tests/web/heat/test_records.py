"""A batch's own page, its picture, its readings as a file, its labels, and the way back from a bottle."""

import csv
import io
import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.people.models import Scheme
from kitshare.pressdays.heat_judging import Curve
from kitshare.web.heat.chart import BOTTOM, LEFT, RIGHT, TOP, draw
from tests.heated import heat_log
from tests.web.page import Page


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def open_page(signed_in, sunniva):
    """A page as Sunniva sees it, in words; it is well made."""

    def open_it(address, by=sunniva):
        answer = signed_in(by).get(address)
        assert answer.status_code == 200
        assert Page(answer.content.decode()).wrong == []
        return words_of(answer)

    return open_it


def test_a_batch_that_was_held_says_so_with_its_numbers(record_heat, open_page):
    page = open_page(f"/heat/records/{record_heat(ph=Decimal('3.4')).pk}/")

    for words in (
        "Held as recommended",
        "75 °C for 20 minutes (common practice, no source)",
        "19.3 minutes after the first reading",
        "26.4 minutes without a break",
        "77.0 °C",
        "never checked in ice and in boiling water",
        "Mazzotta, J Food Prot 64:315, 2001",
        "over 12",
        "1 March 2029",
    ):
        assert words in page
    assert "What you can do now" not in page
    assert not re.search(r"\bsafe\b", page.partition("<main")[2].partition("</main")[0], re.IGNORECASE)


def test_one_that_is_not_shown_to_be_held_says_why_and_what_can_be_done(record_heat, open_page):
    page = open_page(f"/heat/records/{record_heat(heat_log(hold=10)).pk}/")

    for words in (
        "Not shown to be held:",
        "The longest hold without a break is 11.4 minutes, and 20 are recommended.",
        "What you can do now",
        "Heat the batch again for the full time, from the start.",
        "none: not shown to be held",
        "longest hold: too short",
    ):
        assert words in page


def test_a_gap_in_the_readings_is_told_and_drawn(record_heat, open_page):
    lines = heat_log().split("\n")
    page = open_page(f"/heat/records/{record_heat(chr(10).join(lines[:28] + lines[38:])).pk}/")

    assert "Readings lie up to 11 minutes apart" in page
    assert "1 pause of more than 5 minutes: not counted" in page
    assert page.count('class="heat-line"') == 2
    assert page.count('class="heat-gap"') == 1


def test_the_check_of_the_probe_puts_the_readings_right_and_is_said(record_heat, open_page, check_probe):
    check_probe()
    page = open_page(f"/heat/records/{record_heat(heat_log(top=74)).pk}/")

    assert "Held as recommended" in page
    assert "The probe is more than one degree off; its readings were corrected." in page
    assert "checked on Wed 1 Sep" in page


def test_every_reading_can_be_had_as_a_file(record_heat, signed_in, sunniva, check_probe):
    check_probe()
    record = record_heat(heat_log(top=74))

    answer = signed_in(sunniva).get(f"/heat/records/{record.pk}/readings/")

    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert len(rows) == 56
    assert (rows[30]["minutes"], rows[30]["shown C"]) == ("30.0000", "74.000")
    assert float(rows[30]["corrected C"]) == pytest.approx(77, abs=0.05)
    assert answer["Content-Disposition"] == f'attachment; filename="{record.shown_code.lower()}-2027-09-01.csv"'


def test_batches_are_listed_at_the_same_cost_whatever_their_number(
    record_heat, heated, signed_in, sunniva, django_assert_num_queries, django_assert_max_num_queries
):
    client = signed_in(sunniva)
    record_heat()
    with django_assert_max_num_queries(20) as counted:
        client.get(f"/heat/bookings/{heated.pk}/")
    for number in range(2, 5):
        record_heat(number=number)

    with django_assert_num_queries(len(counted)):
        page = client.get(f"/heat/bookings/{heated.pk}/")
    assert words_of(page).count("held as recommended") == 4


def test_the_booking_says_how_many_batches_are_recorded(record_heat, heated, open_page):
    address = f"/bookings/{heated.pk}/"
    assert "No batch is recorded yet." in open_page(address)

    record_heat()
    record_heat(heat_log(hold=5), number=2)

    assert "2 batches are recorded." in open_page(address)
    assert "1 not shown to be held" in open_page(address)


def test_an_empty_list_says_how_to_begin(heated, open_page, perpetua, leilani, teodor):
    address = f"/heat/bookings/{heated.pk}/"

    assert "Type the readings from your paper" in open_page(address)
    assert "Heat records are added by those who sign for Sorrelhythe" in open_page(address, by=teodor)


def test_labels_have_code_day_and_month_and_village(record_heat, open_page):
    record = record_heat()
    page = open_page(f"/heat/records/{record.pk}/labels/")

    assert page.count('<li class="label">') == 48
    assert page.count('class="label-sheet label-sheet-a4"') == 2
    for words in (
        record.shown_code,
        "Best before 1 March 2029",
        "Sorrelhythe",
        "After opening keep in the refrigerator",
    ):
        assert words in page


def test_labels_are_changed_above_the_sheet(record_heat, open_page, signed_in, sunniva):
    address = f"/heat/records/{record_heat().pk}/labels/"
    page = open_page(f"{address}?what=Pear+juice&added=ascorbic+acid&count=3&paper=letter")

    assert page.count('<li class="label">') == 3
    assert "label-sheet-letter" in page
    assert "Sorrelhythe · ascorbic acid" in page
    refused = signed_in(sunniva).get(f"{address}?what=&count=9000&paper=a4")
    assert refused.status_code == 422
    assert 'value="9000"' in words_of(refused)


def test_labels_of_a_batch_not_shown_to_be_held_promise_no_keeping(record_heat, open_page):
    page = open_page(f"/heat/records/{record_heat(heat_log(hold=5)).pk}/labels/")

    assert "Best before" not in page
    assert "Keep in the refrigerator and drink within days." in page


def test_a_code_leads_back_to_village_day_machine_and_record(record_heat, open_page, perpetua):
    record = record_heat()

    for typed in (record.code, record.shown_code.lower(), f" {record.code[:3]} {record.code[3:]} "):
        page = open_page(f"/heat/?code={typed}")
        for words in (
            "Sorrelhythe",
            "Wed 1 Sep",
            "Heron pasteuriser",
            "Sunniva Okparadine",
            f"/heat/records/{record.pk}/",
        ):
            assert words in page
    assert "Recall this batch" not in page
    assert "Recall this batch" in open_page(f"/heat/?code={record.code}", by=perpetua)


def test_a_replaced_record_is_found_behind_the_newer_one(record_heat, open_page):
    old = record_heat(heat_log(hold=5))
    new = record_heat(replaces=old, why_replaced="Heated again.")

    page = open_page(f"/heat/?code={old.code}")

    assert page.index(f"/heat/records/{new.pk}/") < page.index(f"/heat/records/{old.pk}/")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda code: "", "Type the code that stands on the bottle."),
        (lambda code: code[:5], "A code has 6 signs, and this has 5."),
        (lambda code: "O" + code[1:], "Our codes have no O"),
        (lambda code: ("3" if code[0] != "3" else "4") + code[1:], "A sign is mistyped, or two have changed places"),
    ],
)
def test_a_mistyped_code_says_what_to_look_at(record_heat, signed_in, sunniva, change, words):
    typed = change(record_heat().code)

    answer = signed_in(sunniva).get("/heat/", {"code": typed})

    assert answer.status_code == 422
    assert words in words_of(answer)
    assert f'value="{typed}"' in words_of(answer) or not typed
    assert Page(answer.content.decode()).wrong == []


def test_another_village_learns_nothing_from_a_code(record_heat, signed_in, leilani):
    record = record_heat()
    client = signed_in(leilani)

    answer = client.get("/heat/", {"code": record.code})

    assert "No batch of your villages has this code." in words_of(answer)
    for name in ("record", "labels", "readings", "replace"):
        assert client.get(reverse(f"heat:{name}", args=[record.pk])).status_code == 404


def test_the_coordinator_changes_what_checks_and_labels_go_by(record_heat, signed_in, perpetua, sunniva, scheme):
    client = signed_in(perpetua)
    refused = client.post("/heat/terms/", {"altitude_m": "9999", "best_before_months": "0"})
    assert refused.status_code == 422
    assert 'value="9999"' in words_of(refused)

    client.post("/heat/terms/", {"altitude_m": "310", "best_before_months": "12"})

    assert (Scheme.objects.get().altitude_m, Scheme.objects.get().best_before_months) == (310, 12)
    assert record_heat().best_before.year == 2028
    assert "310 m above the sea" in words_of(client.get("/scheme/"))
    assert signed_in(sunniva).get("/heat/terms/").status_code == 403


def test_a_picture_keeps_its_numbers_between_its_edges():
    curve = Curve(points=((0.0, 20.0), (10.0, 76.5), (40.0, 77.0), (60.0, 50.0)), gaps=((10.0, 40.0),))

    chart = draw(curve, target_c=75.0, hold=(40.0, 42.0))

    assert len(chart.lines) == 2
    xs = [float(pair.split(",")[0]) for line in chart.lines for pair in line.split()]
    ys = [float(pair.split(",")[1]) for line in chart.lines for pair in line.split()]
    assert (min(xs), max(xs)) == (LEFT, RIGHT)
    assert TOP <= min(ys) < max(ys) == BOTTOM
    assert [tick.words for tick in chart.across] == ["0", "10", "20", "30", "40", "50", "60"]
    assert [tick.words for tick in chart.up] == ["20", "30", "40", "50", "60", "70", "80"]


@pytest.mark.parametrize(
    "points",
    [((0.0, 20.0),), ((0.0, 20.0), (0.001, 20.0)), ((0.0, -20.0), (300_000.0, 120.0)), ((0.0, 0.0), (1.0, 0.0))],
)
def test_any_log_at_all_is_drawn(points):
    chart = draw(Curve(points=points, gaps=()), target_c=75.0)

    assert 1 <= len(chart.across) <= 8
    assert 2 <= len(chart.up) <= 9
    assert len(chart.lines) + len(chart.lone) == 1


def test_a_check_of_last_year_is_said_to_be_old(record_heat, open_page, check_probe, today):
    check_probe(checked_on=today - timedelta(days=400), ice_reading_c=Decimal(0), boiling_reading_c=None)

    page = open_page(f"/heat/records/{record_heat().pk}/")

    assert "The probe was last checked more than a year ago." in page
    assert "checked at one point only" in page


def test_a_batch_is_judged_by_the_hold_that_the_scheme_goes_by(record_heat, open_page, scheme):
    scheme.heat_target_c, scheme.heat_hold_minutes, scheme.heat_source = Decimal("80"), Decimal("10"), "our own trial"
    scheme.save()

    page = open_page(f"/heat/records/{record_heat().pk}/")

    assert "80 °C for 10 minutes (our own trial)" in page
    assert "80 °C was never reached: the hottest reading is 77 °C." in page
