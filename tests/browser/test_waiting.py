"""Waiting for days that are taken, and getting them: at the phone, by the letter's link."""

import re
from decimal import Decimal

from django.utils import timezone

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.waiting_models import Offer
from kitshare.outbox.models import Message
from kitshare.rules.periods import Period
from tests.browser.test_main_loop import DAY, season_of_today

__all__ = ["season_of_today"]


def test_whoever_waits_is_offered_the_days_that_another_gives_up(
    at_a_phone, season_of_today, sorrelhythe, fennerlow, sunniva, leilani, mill
):
    out_on = timezone.localdate() + 20 * DAY
    has_them, waits = at_a_phone(sunniva), at_a_phone(leilani)
    theirs = bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill],
        period=Period(start=out_on, end=out_on + 2 * DAY),
        fruit_amount=Decimal(300),
        fruit_unit="kg",
        note="",
        by=sunniva,
        at=timezone.now(),
        today=timezone.localdate(),
    )

    # Refused with who has them, and all that was typed kept: one press, and it waits.
    waits.go(f"/bookings/new/?machines={mill.pk}&spell=typed&out_on={out_on}&back_on={out_on + 2 * DAY}")
    waits.page.get_by_label("How much fruit you expect").fill("30")
    waits.page.get_by_label("Note for the coordinator").fill("Any hour will do.")
    waits.press("Look it over")
    waits.sees("Those days are taken")
    waits.sees("with Sorrelhythe")
    waits.press("Wait for these days")
    waits.sees("Fennerlow is on the waiting list.")
    waits.sees("first, nobody else waits for these")
    booking = Booking.objects.waiting().get()
    assert booking.note == "Any hour will do."

    # Given up: the letter's link shows the offer, and however often it is opened, nothing is answered.
    has_them.go(f"/bookings/{theirs.pk}/call-off/")
    has_them.press("Call it off")
    has_them.sees("called off")
    letter = Message.objects.get(key__startswith="offer-made", member_key=leilani.pk)
    link = re.search(r"/bookings/waiting/offers/\d+/", letter.body)[0]
    for _opened in range(2):
        waits.go(link)
    assert Offer.objects.get().is_open

    # Taken: it is a booking like any other, which a coordinator agrees or declines.
    waits.press("Take the days")
    waits.sees("Accepted. The days are held for Fennerlow")
    booking.refresh_from_db()
    assert booking.stage == Stage.ASKED
    assert booking.days.count() == 3  # two with the village, one for cleaning and drying
