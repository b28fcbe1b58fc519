"""At the bench, on a phone: a fault from its flag to its release, and a trip switch that does not trip in time."""

from datetime import date

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking
from kitshare.checks.models import HandoverCheck
from kitshare.people.models import Scheme
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.shelf_models import ShelfMovement
from tests.bookings.conftest import ask, september

__all__ = ["ask"]


@pytest.fixture(autouse=True)
def clock(monkeypatch, now):
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def promised(ask, perpetua, now, today):
    """Agreed bookings of the mill for the days given."""

    def promise(*days: int) -> list[Booking]:
        made = []
        for day in days:
            booking = ask(period=september(day, day + 1))
            signed = {"by": perpetua, "at": now, "today": today}
            made.append(bookings.agree(booking=booking, revision=booking.revision, **signed))
        return made

    return promise


def test_a_fault_from_its_flag_to_its_release(at_a_phone, sunniva, teodor, mill, drive_pin, spare_pin, promised):
    promised(11)
    village, bench = at_a_phone(sunniva), at_a_phone(teodor)

    village.go(f"/workbench/report/{mill.pk}/")
    village.page.get_by_label("Which part").select_option(label="Drive pin")
    village.page.get_by_label("What is wrong").fill("Bent. It will not go in.")
    village.page.get_by_label("Stops use").check()
    village.press("Report the fault")
    village.sees("Reported. The maintenance volunteers are told.")

    bench.go("/workbench/")
    bench.sees("It may not go out like this.")
    bench.follow("Heron mill, Drive pin")
    bench.press("Take it on")
    bench.sees("Taken on. It is in your hands.")
    bench.page.locator("summary", has_text="It waits for a part").click()
    bench.page.get_by_label("What it waits for").fill("A pin from the smith")
    bench.page.get_by_label("Expected on").fill("2027-09-03")
    bench.press("It waits for a part")
    bench.sees("It waits for a part: that is written down.")
    bench.press("The part is here")

    form = bench.page.locator("form", has=bench.page.get_by_role("button", name="Mended", exact=True))
    form.get_by_label("What was done").fill("New pin, clip on its cord.")
    form.get_by_label("Minutes").fill("20")
    form.locator("summary").click()
    form.get_by_role("combobox").first.select_option(index=1)
    form.get_by_label("How many").first.fill("2")
    bench.press("Mended")
    bench.sees("There is a problem")  # one lies there: nothing is recorded, and what was typed stays
    assert form.get_by_label("What was done").input_value() == "New pin, clip on its cord."
    assert Fault.objects.get().stage == FaultStage.TAKEN
    form.get_by_label("How many").first.fill("1")
    bench.press("Mended")
    bench.sees("Mended is written down.")
    assert spare_pin.movements.order_by("-number").first().balance == 0
    assert ShelfMovement.objects.filter(fault=Fault.objects.get()).count() == 1

    village.go(f"/workbench/{Fault.objects.get().pk}/")
    village.sees("mended, to be retested")
    bench.page.get_by_label("How it was retested").fill("Ran it empty for five minutes.")
    bench.press("Release after retest")
    bench.sees("Released. Whoever reported it is told.")

    village.go("/workbench/reported/")
    village.sees("released")
    assert bench.page.evaluate("document.documentElement.scrollWidth") == 390


def test_a_trip_switch_that_is_too_slow_puts_three_bookings_at_risk_until_it_passes(
    at_a_phone, teodor, perpetua, sunniva, mill, plan_care, promised
):
    Scheme.objects.update(electrical_rules="uk")
    plan = plan_care(kind="trip_switch", name="Trip switch")
    first, *_later = promised(2, 11, 18)
    bench, desk, yard = at_a_phone(teodor), at_a_phone(perpetua), at_a_phone(sunniva)
    desk.go("/workbench/at-risk/")
    assert desk.page.locator("table tbody tr").count() == 2  # those after the day on which it is due

    record(bench, plan, rated="201")
    bench.sees("set aside")
    fault = Fault.objects.get()
    assert fault.stops_use
    assert "201" in fault.note

    desk.go("/workbench/at-risk/")
    assert desk.page.locator("table tbody tr").count() == 3
    yard.go(f"/checks/pickup/{first.pk}/")
    yard.sees("Set aside, so it does not go out.")
    assert not HandoverCheck.objects.exists()

    bench.go(f"/workbench/{fault.pk}/")
    form = bench.page.locator("form", has=bench.page.get_by_role("button", name="Mended", exact=True))
    form.get_by_label("What was done").fill("A new switch, fitted by a licensed electrician.")
    bench.press("Mended")
    bench.page.get_by_label("How it was retested").fill("Timed again.")
    bench.press("Release after retest")
    desk.go("/workbench/at-risk/")
    assert desk.page.locator("table tbody tr").count() == 3  # mended is not tested

    record(bench, plan, rated="200")
    desk.go("/workbench/at-risk/")
    desk.sees("No booking still to go out needs a machine that is set aside, or a safety test first.")
    plan.refresh_from_db()
    assert plan.due_on == date(2028, 9, 1)


def record(person, plan, *, rated: str) -> None:
    person.go(f"/workbench/plans/{plan.pk}/test/")
    page = person.page
    page.get_by_label("Who did it").fill("Odile Marchbanks, electrician")
    page.get_by_label("Trips at the rated current (30 mA)").fill(rated)
    page.get_by_label("Passed", exact=True).check()
    person.press("Record the test")
    page.wait_for_load_state()
