"""The main journey as people take it on their phones: from the first asking to the machine's release."""

from datetime import timedelta

import pytest
from django.utils import timezone

from kitshare.bookings.models import BookedDay, Booking, Season, Stage
from kitshare.checks.models import HandoverCheck, Outcome
from kitshare.outbox.models import Message
from kitshare.reminders import actions as reminders
from kitshare.upkeep.models import Fault, FaultStage

DAY = timedelta(days=1)


@pytest.fixture
def season_of_today(scheme):
    today = timezone.localdate()
    return Season.objects.create(name="This season", opens_on=today - 10 * DAY, closes_on=today + 60 * DAY)


def ask(person, machine, out_on, back_on) -> str:
    """Fill in the form, look it over, send it; the address of the booking."""
    person.go("/bookings/new/")
    person.page.get_by_label(machine.name).check()
    person.page.wait_for_load_state("networkidle")
    person.page.get_by_label("Goes out on").fill(out_on.isoformat())
    person.page.get_by_label("Back by the morning of").fill(back_on.isoformat())
    person.page.get_by_label("How much fruit you expect").fill("20")
    person.page.get_by_label("Measured in").select_option("crate")
    person.press("Look it over")
    person.sees("Nothing is sent yet")
    person.press("Book the machines")
    person.sees("The days are held")
    return person.page.url.removeprefix(person.site)


def tap_all_sound(person, but: str = "no part") -> None:
    """One tap for each part but one; a tray that is complete folds itself away."""
    for part in person.page.locator("[data-part]").filter(has_not_text=but).all():
        part.get_by_text("Sound and all here", exact=True).click()


def say_missing(person, part: str) -> None:
    lines = person.page.locator("[data-part]").filter(has_text=part)
    lines.get_by_text("Not all right", exact=True).click()
    lines.get_by_text("missing", exact=True).click()


def sign(person, button: str) -> None:
    person.page.get_by_label("Your name").fill("Sunniva Okparadine")
    person.page.get_by_label("borrower: I sign for the village").check()
    person.press(button)


def test_a_kit_goes_out_comes_back_without_its_drive_pin_and_is_mended_in_time(
    at_a_phone,
    season_of_today,
    sorrelhythe,
    fennerlow,
    sunniva,
    leilani,
    perpetua,
    teodor,
    mill,
    drive_pin,
    guard,
    lead,
):
    today = timezone.localdate()
    village, next_village = at_a_phone(sunniva), at_a_phone(leilani)
    coordinator, bench = at_a_phone(perpetua, width=1280), at_a_phone(teodor)

    # Ask and agree, twice: the second village follows four days later.
    first = ask(village, mill, today, today + DAY)
    second = ask(next_village, mill, today + 4 * DAY, today + 5 * DAY)
    for booking in (first, second):
        coordinator.go(booking)
        coordinator.press("Agree the booking")
        coordinator.sees("The village is told")

    # Pickup: nothing is ticked beforehand, one tap for each part, and the name under it.
    village.go(first)
    village.follow("Do the pickup check")
    assert village.page.locator("[data-pick=all]:checked").count() == 0
    tap_all_sound(village)
    sign(village, "Hand over the kit")
    village.sees("Handed over.")
    assert Booking.objects.get(village=sorrelhythe).stage == Stage.OUT

    # Return without the drive pin: it becomes a fault by itself, and the mill is set aside.
    village.go(first)
    village.follow("Do the return check")
    tap_all_sound(village, but="Drive pin")
    say_missing(village, "Drive pin")
    sign(village, "Take the kit back")
    village.sees("Taken back.")
    fault = Fault.objects.get()
    assert fault.part == drive_pin
    assert fault.stops_use

    # Set aside: it cannot be booked, the next village is at risk and told once, however often the round is made.
    village.go("/bookings/new/")
    village.sees("set aside")
    coordinator.go(second)
    coordinator.sees("at risk")
    for _round in range(2):
        reminders.tick(at=timezone.now())
    assert Message.objects.filter(key__startswith="booking-at-risk:", member_key=leilani.pk).count() == 1

    # Mended, retested, released: the next booking stands again, and the reporter hears of it.
    bench.go("/workbench/")
    bench.sees("Goes out again in 4 days, to Fennerlow")
    bench.page.get_by_role("link", name="Drive pin").first.click()
    bench.press("Take it on")
    bench.page.get_by_role("textbox", name="What was done").fill("A new pin from the shelf, with a new clip.")
    bench.press("Mended")
    bench.page.get_by_role("textbox", name="How it was retested").fill("Ran empty for five minutes with the guard on.")
    bench.press("Release after retest")
    bench.sees("Released.")
    assert Fault.objects.get().stage == FaultStage.RELEASED
    coordinator.go(second)
    assert coordinator.page.get_by_text("at risk").count() == 0
    assert not Booking.objects.at_risk(timezone.localdate()).exists()
    assert Message.objects.filter(member_key=sunniva.pk, subject__icontains="Released").count() == 1


def test_a_missing_vital_part_stops_the_pickup_and_a_spare_lets_it_go(
    at_a_phone, season_of_today, sorrelhythe, sunniva, perpetua, teodor, mill, drive_pin, spare_pin, guard
):
    today = timezone.localdate()
    village, coordinator = at_a_phone(sunniva), at_a_phone(perpetua)
    booking = ask(village, mill, today, today + DAY)
    coordinator.go(booking)
    coordinator.press("Agree the booking")

    village.go(booking)
    village.follow("Do the pickup check")
    tap_all_sound(village, but="Drive pin")
    say_missing(village, "Drive pin")
    sign(village, "Hand over the kit")
    village.sees("The kit does not go out like this")
    assert HandoverCheck.objects.count() == 0
    assert village.page.get_by_label("Your name").input_value() == "Sunniva Okparadine"

    pin = village.page.locator("[data-part]").filter(has_text="Drive pin")
    pin.get_by_label("A spare was put in its place here and now").check()
    village.press("Hand over the kit")
    village.sees("handed over")

    assert spare_pin.movements.get(number=2).balance == 0
    assert HandoverCheck.objects.get().outcome == Outcome.HANDED_OVER
    assert BookedDay.objects.filter(booking__stage=Stage.OUT).exists()
