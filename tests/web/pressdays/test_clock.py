"""The page of the clock: what it says, what it refuses, and that nothing typed is lost."""

import re
from dataclasses import replace
from datetime import time
from decimal import Decimal
from html import unescape
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import strip_tags
from pytest_django.asserts import assertContains, assertNotContains

from kitshare.kits.models import Machine
from kitshare.pressdays import clock
from kitshare.pressdays.clock_models import ClockPlan
from kitshare.rules.pressday import DayGiven, HeatStage, KindInBath, plan_day
from kitshare.web.pressdays.clock_chart import tall, tracks, wide
from kitshare.web.pressdays.clock_words import bottleneck, crew, day_and_time, how_long, letter

pytestmark = pytest.mark.django_db

TYPED = {"helpers": "8", "starts_at": "08:00", "ends_at": "17:30", "revision": "0"}


def words(answer):
    return re.sub(r"\s+", " ", unescape(strip_tags(answer.content.decode())))


@pytest.fixture
def page(booking, bottle, mill, press, pasteuriser):
    """Sorrelhythe's 400 kg, all of it into glass bottles and heated."""
    booking.machines.set([mill, press, pasteuriser])
    return reverse("pressdays:clock", args=[booking.pk])


@pytest.fixture
def save_hours(booking, perpetua, now):
    hours = clock.Hours(helpers=3, starts_at=time(10), ends_at=time(16))
    return lambda: clock.save_hours(booking=booking, hours=hours, by=perpetua, at=now)


def test_a_day_that_does_not_fit_says_what_is_left_and_every_way_out(signed_in, sunniva, booking, page):
    booking.fruit_kg = Decimal(600)
    booking.save()

    seen = words(signed_in(sunniva).get(page))

    assert "Nothing is saved yet: these are the usual ones." in seen
    assert re.search(r"The last bottle is cool, and all is done, at \d\d:\d\d", seen)
    assert re.search(r"That is .{3,12} after 18:00, when the day ends\.", seen)
    assert re.search(r"Start by 0\d:\d\d\.", seen)
    assert re.search(r"By then [\d.]+ litres of juice are not heated\.", seen)
    assert re.search(r"Freeze [\d.]+ litres, or drink it fresh, instead of heating it\.", seen)
    assert re.search(r"[Oo]ne more pasteuriser( alone is not enough)?: then all is done at \d\d:\d\d\.", seen)
    assert re.search(r"Bring \d+ kg of fruit at most\.", seen)
    assert "The bottleneck is heating" in seen
    assert "These times are for planning and are no verdict" in seen
    assert "Cool the bath to 52 °C before the next cold bottles go in" in seen
    assert (
        "Heron press: the usual figure is taken for kilograms of fruit in an hour and kilograms of fruit in one cheese."
        in seen
    )


def test_a_day_that_is_over_before_the_last_bottle_is_cool_says_that_alone(signed_in, sunniva, page):
    """Half past seven is the last bath out, an hour later it is cool."""
    late = {"helpers": "6", "starts_at": "09:00", "ends_at": "20:00", "show": "1"}
    seen = words(signed_in(sunniva).post(page, late))

    assert "By then all is pressed and heated: cooling and cleaning are left." in seen
    assert "Freeze" not in seen


def test_a_day_that_fits_says_when_to_start_at_the_latest(signed_in, sunniva, booking, page):
    booking.fruit_kg = Decimal(80)
    booking.save()

    seen = words(signed_in(sunniva).get(page))

    assert re.search(r"To be done by 18:00, start at 1\d:\d\d at the latest\.", seen)
    assert "when the day ends" not in seen


def test_every_batch_stands_in_the_table_as_in_the_picture(signed_in, sunniva, page):
    text = signed_in(sunniva).get(page).content.decode()
    batches = text.partition("clock-batches")[2].partition("</table>")[0].count("<tr>") - 1
    drawn = text.partition('class="clock-chart clock-wide"')[2].partition("</svg>")[0]

    assert drawn.count('<rect class="clock-box clock-fruit') == 30  # ten cheeses through wash, mill and press
    assert batches == 40 + drawn.count('<rect class="clock-box clock-juice') - 10
    assert "style=" not in text


def test_several_kinds_are_heated_each_by_itself_and_told_in_table_and_picture(signed_in, sunniva, page, add_kind):
    glass = {"fill_fraction": Decimal("0.96"), "material": "glass", "usual_parts": 20}
    add_kind("Half litre bottle", "0.5", **glass)
    bag = {"fill_fraction": Decimal("0.96"), "material": "film", "highest_fill_c": Decimal(85), "usual_parts": 20}
    add_kind("5 L bag", "5", **bag)

    answer = signed_in(sunniva).get(page)
    seen, text = words(answer), answer.content.decode()

    table = text.partition("clock-batches")[2].partition("</table>")[0]
    told = [re.sub(r"\s+", " ", unescape(cell)) for cell in re.findall(r'"Amount">(.*?)</td>', table)]
    kinds = [cell.partition(" × ")[2] for cell in told if "×" in cell]
    assert kinds == ["5 L bag", *["0.75 L glass bottle"] * 3, "Half litre bottle"]
    assert [re.search(r"in (\d+) ×", cell)[1] for cell in told if "×" in cell][:3] == ["10", "72", "72"]
    assert "Kinds in the heat: A 5 L bag; B 0.75 L glass bottle; C Half litre bottle." in seen
    drawn = text.partition('class="clock-chart clock-wide"')[2].partition("</svg>")[0]
    assert re.findall(r">(\d+[A-Z])</text>", drawn) == ["1A", "2B", "3B", "4B", "5C"]
    assert "each batch is of one kind, with its own times, the largest kind first" in seen
    assert "10 × 5 L bag in a full rack" in seen
    assert (
        "Cool the bath to 52 °C before cold bottles of these go in: 0.75 L glass bottle and Half litre bottle." in seen
    )
    heating = text.partition('id="clock-heating"')[2]
    assert heating.count("The first, bath at 10 °C") == 1
    assert [heating.count(f"Each later one, bath at {degrees} °C") for degrees in (52, 78)] == [2, 0]


def test_a_second_bath_is_cold_for_the_kind_that_it_begins_with(
    signed_in, sunniva, booking, page, add_kind, pasteuriser
):
    booking.fruit_kg = Decimal(60)
    booking.machines.add(Machine.objects.create(kit=pasteuriser.kit, name="Other bath", kind="pasteuriser"))
    booking.save()
    add_kind("Litre bottle", "1", fill_fraction=Decimal("0.96"), material="glass", usual_parts=60)

    heating = signed_in(sunniva).get(page).content.decode().partition('id="clock-heating"')[2]

    assert heating.count("The first, bath at 10 °C") == 4  # either kind in either bath
    assert "Each later one" not in heating
    assert "Cool the bath" not in heating


def test_one_kind_has_no_letters_and_its_containers_no_name(signed_in, sunniva, page):
    answer = signed_in(sunniva).get(page)
    drawn = answer.content.decode().partition('class="clock-chart clock-wide"')[2].partition("</svg>")[0]

    assert "Kinds in the heat" not in words(answer)
    assert "Several kinds" not in words(answer)
    assert not re.search(r">\d+[A-Z]</text>", drawn)
    assert re.search(r"litres in 72 containers", words(answer))
    assert "Cool the bath to 52 °C before the next cold bottles go in" in words(answer)


def test_hours_are_saved_and_then_shown_with_whose_they_are(signed_in, sunniva, page):
    answer = signed_in(sunniva).post(page, TYPED | {"save": "1"}, follow=True)

    assert answer.redirect_chain == [(page, 302)]
    assert "Hands and hours are saved." in words(answer)
    assert "Saved by Sunniva Okparadine on" in words(answer)
    assert ClockPlan.objects.get().ends_at == time(17, 30)


def test_showing_saves_nothing_and_keeps_what_was_typed(signed_in, sunniva, page):
    answer = signed_in(sunniva).post(page, TYPED | {"show": "1"})

    assertContains(answer, 'value="8"')
    assertContains(answer, "the end of the day at 17:30")
    assert not ClockPlan.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("helpers", "0", "Give the number of helpers, from 1 to 200."),
        ("helpers", "10000", "Give the number of helpers, from 1 to 200."),
        ("helpers", "half", "Give the number of helpers, from 1 to 200."),
        ("helpers", "9" * 5000, "Give the number of helpers, from 1 to 200."),
        ("helpers", "", "Give the number of helpers, from 1 to 200."),
        ("ends_at", "08:00", "The end must be later than the start, on the same day."),
        ("ends_at", "07:59", "The end must be later than the start, on the same day."),
        ("starts_at", "soon", "Write the time as hours and minutes, such as 09:30."),
        ("starts_at", "25:00", "Write the time as hours and minutes, such as 09:30."),
    ],
)
def test_hands_and_hours_that_cannot_be_are_refused_by_their_field(signed_in, sunniva, page, field, typed, sentence):
    answer = signed_in(sunniva).post(page, TYPED | {field: typed, "save": "1"})
    shown = signed_in(sunniva).get(f"{page}preview/", TYPED | {field: typed}, headers={"HX-Request": "true"})

    assert "<title>Error:" in answer.content.decode()
    assert sentence in words(answer)
    assert not typed or f'value="{typed}"' in answer.content.decode()
    assert "There is no clock for what is typed now." in words(shown)
    assert sentence in words(shown)
    assert not ClockPlan.objects.exists()


def test_the_clock_follows_what_is_typed_without_saving(signed_in, sunniva, page):
    answer = signed_in(sunniva).get(f"{page}preview/", TYPED, headers={"HX-Request": "true"})

    assert "the end of the day at 17:30" in words(answer)
    assertNotContains(answer, "<html")
    assert not ClockPlan.objects.exists()
    assert signed_in(sunniva).get(f"{page}preview/", TYPED).status_code == 302


def test_of_two_tabs_the_second_is_told_and_may_save_once_more(signed_in, sunniva, page, save_hours):
    save_hours()
    client = signed_in(sunniva)

    told = client.post(page, TYPED | {"save": "1"})
    again = client.post(page, TYPED | {"save": "1", "revision": "1"})

    assert "Perpetua Quillstone saved other hands and hours since you opened this page" in words(told)
    assert 'name="revision" value="1"' in told.content.decode()
    assert again.status_code == 302


def test_who_may_not_change_reads_and_strangers_do_not_find_it(signed_in, teodor, leilani, page):
    read = signed_in(teodor).get(page)

    assert "Hands and hours are changed by those who sign for Sorrelhythe and by the coordinator." in words(read)
    assertNotContains(read, '<form class="clock-form"')
    assert signed_in(teodor).post(page, TYPED).status_code == 403
    assert signed_in(leilani).get(page).status_code == 404


def test_a_booking_without_a_pasteuriser_says_so_and_still_has_its_clock(
    signed_in, sunniva, booking, page, mill, press
):
    booking.machines.set([mill, press])

    seen = words(signed_in(sunniva).get(page))

    assert "No pasteuriser is booked, though some of the juice is to be heated" in seen
    assert "All is done and clean at" in seen


def test_a_booking_of_nothing_for_a_press_day_has_no_clock(signed_in, sunniva, booking, page, heron):
    booking.machines.set([Machine.objects.create(kit=heron, name="Trailer", kind="other")])

    assert "there is nothing to put on a clock" in words(signed_in(sunniva).get(page))


def test_a_heater_too_weak_says_how_far_it_gets(signed_in, sunniva, page, pasteuriser):
    Machine.objects.filter(pk=pasteuriser.pk).update(power_watts=900, loss_w_per_k=Decimal(20))

    assert "Heron pasteuriser gets no further than 60 °C by these figures" in words(signed_in(sunniva).get(page))


def test_a_start_before_the_kit_is_there_is_said(signed_in, sunniva, booking, page):
    booking.back_on = booking.out_on.replace(day=booking.out_on.day + 1)
    booking.save()

    answer = signed_in(sunniva).post(page, TYPED | {"show": "1"})

    assert "The kit is collected at 10:00 on that day, later than this start." in words(answer)


def test_the_clock_and_the_card_cost_the_same_with_one_bath_and_with_many(
    signed_in, sunniva, booking, page, heron, django_assert_num_queries
):
    client = signed_in(sunniva)
    pages = [page, reverse("pressdays:card", args=[booking.pk])]
    costs = []
    for one in pages:
        with CaptureQueriesContext(connection) as queries:
            client.get(one)
        costs.append(len(queries))
    for number in range(11):
        booking.machines.add(Machine.objects.create(kit=heron, name=f"Bath {number}", kind="pasteuriser"))

    for one, cost in zip(pages, costs, strict=True):
        with django_assert_num_queries(cost):
            client.get(one)
    assert max(costs) < 25


# Words and pictures by themselves


@pytest.mark.parametrize(
    ("minute", "long", "short"),
    [
        (545, "09:05", "09:05"),
        (1440, "00:00 next day", "00:00 +1"),
        (3 * 1440 + 61, "01:01, 3 days later", "01:01 +3"),
        (-30, "23:30 the day before", "23:30 -1"),
    ],
)
def test_times_of_the_clock_pass_midnight_in_words(minute, long, short):
    assert (day_and_time(minute), day_and_time(minute, short=True)) == (long, short)


def test_durations_in_words():
    assert [how_long(minutes) for minutes in (0.4, 45, 60, 95)] == ["0 min", "45 min", "1 h", "1 h 35 min"]


def a_day(helpers=6, kg=400.0, **heat):
    bottles = KindInBath(litres_per_batch=50, litres_each=1, first_minutes=90, later_minutes=60)
    stage = HeatStage(**{"kinds": (bottles,)} | heat)
    return plan_day(DayGiven(fruit_kg=kg, juice_litres=kg * 0.55, helpers=helpers, heat=stage))


def test_kinds_have_letters_without_end():
    assert [letter(place) for place in (0, 1, 25, 26, 51, 52)] == ["A", "B", "Z", "A1", "Z1", "A2"]


def test_a_bundle_of_one_kind_has_its_letter_and_one_of_two_has_none():
    kind = KindInBath(litres_per_batch=2, litres_each=1, first_minutes=9, later_minutes=6, part=0.5)
    plan = a_day(
        kinds=(replace(kind, key="a"), replace(kind, key="b")), kg=300.0
    )  # 42 batches of either, by twos or threes

    labels = [span.label for track in tracks(plan) if track.short == "heat" for span in track.spans]

    assert (labels[0], labels[-1]) == ("1–3A", "82–84B")
    assert sum(label[-1] == "A" for label in labels) == sum(label[-1] == "B" for label in labels) == 14


def test_every_helper_has_a_place_in_words():
    assert crew(a_day(helpers=1)) == [
        "Washing, milling, pressing, filling and heating: one helper",
        "Cleaning: everybody",
    ]
    many = crew(a_day(helpers=30))
    assert many[2].startswith("Pressing: ")
    assert "without a fixed place: they sort fruit, carry, relieve the others" in many[-2]


def test_the_bottleneck_says_what_would_ease_it():
    assert "one more pasteuriser would shorten the day" in bottleneck(a_day())
    assert "More hands there would shorten the day." in bottleneck(a_day(helpers=4, share=0.05))


@pytest.mark.parametrize("plan", [a_day(), a_day(pasteurisers=2), a_day(kg=9_000.0), a_day(helpers=1, share=0.0)])
def test_no_block_lies_outside_the_picture(plan):
    found = tracks(plan)
    for chart in (wide(found, start_minute=540, end_minutes=540), tall(found, start_minute=540, end_minutes=540)):
        assert all(box.x >= 0 and box.x + box.width <= chart.width for box in chart.boxes)
        assert all(box.y >= 0 and box.y + box.height <= chart.height for box in chart.boxes)
        assert len(chart.ticks) <= 13
        assert len({box.x for box in chart.boxes}) > 1
    assert tall(found, start_minute=540, end_minutes=540).width == 360
    assert all(len(track.spans) <= 40 for track in found)


def test_two_pasteurisers_are_two_lanes():
    heating = next(track for track in tracks(a_day(pasteurisers=2)) if track.short == "heat")

    assert heating.lanes == 2
    assert {span.lane for span in heating.spans} == {0, 1}
    for lane in (0, 1):
        ours = [span for span in heating.spans if span.lane == lane]
        assert all(one.leave <= other.start + 1e-6 for one, other in pairwise(ours))
