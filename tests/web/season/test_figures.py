"""The season in figures: who sees which, beside the season before, and as a file."""

import csv
import io
import re
from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.html import strip_tags

from kitshare.bookings.models import Booking, Season, Stage
from kitshare.people.models import Village
from kitshare.pressdays.record_models import PressDayRecord
from kitshare.web.season import figures
from kitshare.works import actions as works
from kitshare.works import running
from kitshare.works.models import Kind, Work

pytestmark = pytest.mark.django_db
ADDRESS, COPY = "/season/figures/", "/season/figures/copy.csv"


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now + timedelta(days=30))


@pytest.fixture
def went_out(sunniva, now):
    """An outing with what its one day gave, told as history; without litres, nothing is recorded."""

    def went_out(village, out_on, *machines, litres=0, kg=100):
        booking = Booking.objects.create(
            village=village,
            borrower=sunniva,
            stage=Stage.CLOSED,
            out_on=out_on,
            back_on=out_on + timedelta(days=1),
            fruit_amount=Decimal(kg),
            fruit_kg=Decimal(kg),
            asked_at=now,
            changed_at=now,
        )
        booking.machines.set(machines)
        if litres:
            PressDayRecord.objects.create(
                booking=booking,
                day=out_on,
                pressed_kg=kg,
                litres_fresh=litres,
                hours=5,
                helpers=4,
                waste_kg=3,
                recorded_by=sunniva,
                recorded_at=now,
            )
        return booking

    return went_out


@pytest.fixture
def two_seasons(season, sorrelhythe, fennerlow, mill, otter_mill, went_out):
    """Last year Sorrelhythe pressed 100 kg; this year 200 kg, and Fennerlow 300 kg, of which 100 are not written down."""
    Season.objects.create(name="Autumn 2026", opens_on=date(2026, 8, 15), closes_on=date(2026, 11, 30))
    went_out(sorrelhythe, date(2026, 9, 5), mill, litres=50)
    went_out(sorrelhythe, date(2027, 9, 5), mill, litres=110, kg=200)
    went_out(fennerlow, date(2027, 9, 12), otter_mill, litres=120, kg=200)
    went_out(fennerlow, date(2027, 9, 19), mill, kg=100)


def words(answer):
    return re.sub(r"\s+", " ", unescape(strip_tags(answer.content.decode().replace("<", " <"))))


def test_the_page_adds_a_season_up_beside_the_one_before(signed_in, perpetua, two_seasons):
    seen = words(signed_in(perpetua).get(ADDRESS))

    assert "230 litres from 400 kg of fruit: 0.58 litres from a kilogram." in seen
    assert "3 outings, 2 of them written down: 2 of 3 days." in seen
    assert "The others were expected to give about 55 litres, which is not counted here." in seen
    assert "Autumn 2026 1 outing, 50 litres, 0.50 litres from a kilogram" in seen
    assert "Sorrelhythe 1 1 of 1 200 kg 110 litres 0.55 20 3 kg 50 litres" in seen
    assert "Fennerlow 2 1 of 2 200 kg 120 litres 0.60 20 3 kg –" in seen
    assert "Otter 1 1 of 1 200 kg 120 litres" in seen


def test_a_borrower_sees_their_own_village_and_what_all_come_to(signed_in, sunniva, two_seasons):
    seen = words(signed_in(sunniva).get(ADDRESS))

    assert "230 litres from 400 kg" in seen
    assert "Your own villages" in seen
    assert "Sorrelhythe 1 1 of 1" in seen
    assert "Fennerlow" not in seen


def test_an_earlier_season_is_one_step_away(signed_in, perpetua, two_seasons):
    page = signed_in(perpetua).get(ADDRESS)
    key = Season.objects.get(name="Autumn 2026").pk

    assert f'<a rel="prev" href="{ADDRESS}?season={key}">Autumn 2026</a>' in page.content.decode()
    seen = words(signed_in(perpetua).get(ADDRESS, {"season": key}))
    assert "50 litres from 100 kg of fruit: 0.50 litres" in seen
    assert "Juice before" not in seen


def test_pounds_and_gallons_where_the_scheme_reads_them(signed_in, perpetua, scheme, two_seasons):
    scheme.units = "us"
    scheme.save()

    assert "60.8 US gallons from 882 lb of fruit" in words(signed_in(perpetua).get(ADDRESS))


def test_the_file_says_the_same_and_no_name_in_it_is_a_formula(
    signed_in, perpetua, sunniva, two_seasons, mill, went_out
):
    went_out(Village.objects.create(name="=Gap()"), date(2027, 9, 25), mill, litres=40)

    answer = signed_in(perpetua).get(COPY)

    assert answer["Content-Disposition"] == 'attachment; filename="autumn-2027-figures.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [(row["of what"], row["name"]) for row in rows] == [
        ("village", "'=Gap()"),
        ("village", "Fennerlow"),
        ("village", "Sorrelhythe"),
        ("kit", "Heron"),
        ("kit", "Otter"),
        ("all", "Autumn 2027"),
    ]
    sorrelhythe = rows[2]
    assert (sorrelhythe["fruit pressed, kg"], sorrelhythe["drunk fresh, litres"]) == ("200", "110")
    assert (sorrelhythe["litres from a kilogram"], sorrelhythe["hours of all helpers"]) == ("0.55", "20")
    own = csv.DictReader(io.StringIO(signed_in(sunniva).get(COPY).content.decode("utf-8-sig")))
    assert [row["name"] for row in own] == ["Sorrelhythe", "Heron", "Otter", "Autumn 2027"]


def test_before_there_is_anything_the_page_says_what_is_missing(signed_in, perpetua, scheme):
    assert "No season has been set yet." in words(signed_in(perpetua).get(ADDRESS))
    assert signed_in(perpetua).get(COPY).content.decode("utf-8-sig").count("\n") == 1


def test_a_season_in_which_nothing_went_out_says_so(signed_in, perpetua, season):
    assert "Nothing has gone out in this season yet." in words(signed_in(perpetua).get(ADDRESS))


def test_outings_of_which_nothing_is_written_down_have_no_juice(
    signed_in, perpetua, season, sorrelhythe, mill, went_out
):
    went_out(sorrelhythe, date(2027, 9, 5), mill)

    assert "No day is written down yet, so there is no juice to add up." in words(signed_in(perpetua).get(ADDRESS))


@pytest.mark.parametrize("asked", ["²", "9" * 40, "-1", "none"])
def test_a_season_that_is_none_is_the_one_that_is_on(signed_in, perpetua, season, asked):
    assert "Autumn 2027 in figures" in words(signed_in(perpetua).get(ADDRESS, {"season": asked}))


def test_many_villages_cost_no_more_queries_than_one(signed_in, perpetua, season, mill, sorrelhythe, went_out):
    browser = signed_in(perpetua)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            browser.get(ADDRESS)
        return len(queries)

    went_out(sorrelhythe, date(2027, 9, 1), mill, litres=50)
    one = asked()
    for number in range(11):
        village = Village.objects.create(name=f"Village {number}")
        went_out(village, date(2027, 9, 2 + number), mill, litres=50)

    assert asked() == one == 7


def test_of_many_outings_the_file_is_made_beside_the_pages_and_says_the_same(
    signed_in, perpetua, sunniva, two_seasons, monkeypatch, now
):
    at_once = signed_in(perpetua).get(COPY)
    monkeypatch.setattr(figures, "AT_ONCE", 2)

    sent_on = signed_in(perpetua).get(COPY)
    work = Work.objects.get()
    assert (sent_on.status_code, sent_on["Location"]) == (302, f"/works/{work.pk}/")
    running.do(work.pk, clock=lambda: now)

    page = signed_in(perpetua).get(sent_on["Location"])
    assert "The file adds up 3 outings." in words(page)
    assert f"{ADDRESS}?season={work.keys['season']}" in page.content.decode()
    made = signed_in(perpetua).get(f"/works/{work.pk}/file/")
    assert (made.content, made["Content-Type"]) == (at_once.content, at_once["Content-Type"])
    assert made["Content-Disposition"] == at_once["Content-Disposition"]
    assert signed_in(sunniva).get(COPY)["Content-Type"] == at_once["Content-Type"]  # of few villages, at once


def test_where_the_season_went_meanwhile_the_work_says_so(perpetua, two_seasons, now):
    work = works.ask(kind=Kind.FIGURES, about="0", keys={"season": 0}, title="Figures", by=perpetua, at=now)

    running.do(work.pk, clock=lambda: now)

    assert Work.objects.get().words == "The season is not here any more."
