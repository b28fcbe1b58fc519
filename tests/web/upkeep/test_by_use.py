"""Services that go by use on the pages: planned, shown with what is left and when, and listed by what comes first."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.use import Work, note_use
from kitshare.upkeep.use_models import UseSource
from tests.web.upkeep.test_care import TYPED, page_of

pytestmark = pytest.mark.django_db

SERVICE = TYPED | {"kind": "service", "name": "Blades sharpened", "due_on": "2027-12-01"}


@pytest.fixture
def milled(season, mill, today):
    """Five outings of the mill, two of them estimated, 1500 kg in all."""
    for place in range(1, 6):
        work = Work(day=today - timedelta(days=2 * place), machines=(mill,), kg=Decimal(300), hours=Decimal(5))
        source = UseSource.ESTIMATED if place > 3 else UseSource.RECORDED
        note_use(booking_key=place, work=[work], source=source)


def test_a_service_by_use_is_planned_with_commas_and_its_page_says_what_is_left_and_when(
    signed_in, teodor, mill, milled
):
    browser = signed_in(teodor)
    typed = SERVICE | {"every_kg": "2000,0", "every_hours": " ", "every_outings": "40"}

    answer = browser.post(reverse("upkeep:plan_new", args=[mill.pk]), typed)

    plan = CarePlan.objects.get()
    page = page_of(browser.get(answer["Location"]))
    assert (plan.every_kg, plan.every_hours, plan.every_outings) == (Decimal(2000), None, 40)
    assert "Every 12 months or every 2,000 kg or every 40 outings, whichever comes first" in page
    assert "1,500 kg of 2,000 kg, all that is known, of which about 600 kg are estimated. 500 kg left." in page
    assert "Falls due about Tue 7 Sep 2027 (between Thu 2 Sep 2027 and Fri 15 Oct 2027, nine in ten)." in page
    for address in (reverse("upkeep:due"), reverse("upkeep:workbench"), reverse("kits:machine", args=[mill.pk])):
        listed = page_of(browser.get(address))
        assert ">due soon<" in listed, address
        assert "500 kg left. Falls due about" in listed, address


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"every_kg": "0"}, "Give a number from 1 to 1,000,000 kg, or leave it empty."),
        ({"every_kg": "-3"}, "Give a number from 1 to"),
        ({"every_kg": "1,200"}, "without a comma"),
        ({"every_hours": "9" * 40}, "no more than"),
        ({"every_hours": "10000.5"}, "Give a number from 1 to 10,000 hours"),
        ({"every_outings": "9" * 40}, "Give a number from 1 to 1,000 outings"),
        ({"every_outings": "two"}, "Enter a whole number"),
        ({"kind": "guard", "every_kg": "500"}, "Safety tests go by date alone."),
    ],
)
def test_a_use_that_makes_no_sense_is_said_beside_it_and_what_was_typed_stays(signed_in, teodor, mill, typed, said):
    answer = signed_in(teodor).post(reverse("upkeep:plan_new", args=[mill.pk]), SERVICE | typed)

    assert answer.status_code == 422
    page = page_of(answer)
    assert said in page
    assert all(f'value="{value}"' in page for name, value in typed.items() if name != "kind")
    assert not CarePlan.objects.exists()


def test_what_was_done_enough_is_due_now_and_comes_before_what_is_due_sooner_by_date(
    signed_in, teodor, plan_care, press, milled
):
    by_date = plan_care(machine=press, due_on=date(2027, 9, 3))
    by_kg = plan_care(kind="service", name="Blades", due_on=date(2028, 9, 1), every_kg=Decimal(1500))

    page = signed_in(teodor).get(reverse("upkeep:due"))

    assert [row.record for row in page.context["table"].paginated_rows] == [by_kg, by_date]
    assert ">due now<" in page_of(page)
    bench_page = page_of(signed_in(teodor).get(reverse("upkeep:workbench")))
    assert bench_page.index(str(by_date)) < bench_page.index(str(by_kg))  # a safety test before a service


@pytest.mark.parametrize("number", [1, 12])
def test_the_list_costs_the_same_however_many_go_by_use(
    signed_in, teodor, plan_care, heron, season, number, django_assert_num_queries
):
    for place in range(number):
        machine = heron.machines.create(name=f"Mill {place}", kind="mill")
        plan_care(machine=machine, kind="service", every_kg=Decimal(1000))
    browser = signed_in(teodor)
    browser.get(reverse("upkeep:due"))

    # as for services that go by date alone (11); and the seasons, what the machines did, what was recorded last
    with django_assert_num_queries(14):
        browser.get(reverse("upkeep:due"))
