"""The waiting list in the round of each minute, and the reminder that an offer runs out."""

from datetime import timedelta

import pytest

from kitshare.bookings.models import Booking
from kitshare.bookings.waiting_models import Offer
from kitshare.celery import app
from kitshare.outbox import by_hand
from kitshare.outbox.models import Message
from kitshare.reminders import actions as reminders
from tests.bookings.conftest import ask
from tests.bookings.waiters import ferrow, free, later, linnowby, on, open_offers, taken, wait

__all__ = ["ask", "ferrow", "free", "linnowby", "taken", "wait"]

pytestmark = pytest.mark.django_db


@pytest.fixture
def offer(taken, wait, free, fennerlow) -> Offer:
    """Offered to Fennerlow on Wednesday at half past nine, for 24 hours."""
    wait(fennerlow)
    free(taken)
    return Offer.objects.get()


def reminded() -> list[tuple[str, str]]:
    found = Message.objects.filter(key__startswith="offer-runs-out").order_by("pk")
    return list(found.values_list("to_name", "subject"))


def test_whoever_has_not_answered_is_reminded_once_three_hours_before(offer, settings):
    settings.SITE_ADDRESS = "https://kit.example.org"
    for at in (on(2, 6, 29), on(2, 6, 30), on(2, 7)):
        reminders.write_due_reminders(at=at)

    assert reminded() == [("Leilani Crabbwater", "The offer runs out soon: Fennerlow from Sat 11 Sep")]
    message = Message.objects.get(key__startswith="offer-runs-out")
    assert message.queued_at == on(2, 6, 30)
    assert "are kept for Fennerlow until Thu 2 Sep" in message.body
    assert f"https://kit.example.org/bookings/waiting/offers/{offer.pk}/" in message.body


def test_a_short_offer_is_reminded_of_when_a_quarter_of_it_is_left(offer):
    Offer.objects.update(until=later(offer.made_at, hours=4))

    assert reminders.write_due_reminders(at=later(offer.made_at, hours=2, minutes=59)) == 0
    assert reminders.write_due_reminders(at=later(offer.made_at, hours=3)) == 1


def test_an_offer_that_was_answered_is_not_reminded_of(offer):
    Offer.objects.update(standing="accepted", ended_at=on(1, 10))

    reminders.write_due_reminders(at=on(2, 7))

    assert reminded() == []


def test_whoever_is_still_to_be_telephoned_about_the_offer_is_not_telephoned_twice(taken, wait, free, ferrow, perpetua):
    wait(ferrow)
    free(taken)
    reminders.write_due_reminders(at=on(2, 7))
    assert reminded() == []

    by_hand.mark_told(message=Message.objects.get(key__startswith="offer-made"), by=perpetua, at=on(2, 7, 30))
    reminders.write_due_reminders(at=on(2, 8))

    assert [name for name, _subject in reminded()] == ["Emrys ap Ferrow"]


def test_the_round_of_each_minute_ends_offers_and_makes_the_next(offer, wait, linnowby, mailoutbox):
    wait(linnowby)

    reminders.tick(at=offer.until)

    assert open_offers() == [("Linnowby", "11-13")]
    assert [mail.subject for mail in mailoutbox if mail.to[0].startswith("Hamza")] == [
        "Free now for Linnowby: Sat 11 Sep to Mon 13 Sep. Answer by Fri 3 Sep, 09:30"
    ]


def test_a_waiting_list_that_fails_keeps_no_reminder_and_no_letter_back(offer, monkeypatch, mailoutbox):
    def fail(**_facts):
        raise RuntimeError("no list")

    monkeypatch.setattr("kitshare.reminders.actions.offers.settle", fail)

    with pytest.raises(RuntimeError, match="no list"):
        reminders.tick(at=offer.until - timedelta(hours=1))

    assert len(reminded()) == 1
    assert "The offer runs out soon: Fennerlow from Sat 11 Sep" in {mail.subject for mail in mailoutbox}


def test_whoever_only_waits_is_reminded_of_nothing(taken, wait, fennerlow):
    wait(fennerlow)

    for day in (10, 11, 13, 14):
        reminders.write_due_reminders(at=on(day))

    assert not Message.objects.filter(to_name="Leilani Crabbwater").exists()
    assert Booking.objects.overdue(on(20).date()).count() == 0


def test_the_clock_of_a_real_server_looks_after_the_list_too():
    rung = {entry["task"] for entry in app.conf.beat_schedule.values()}

    assert "kitshare.bookings.tasks.look_after_the_waiting_list" in rung
    app.loader.import_default_modules()
    assert rung <= set(app.tasks)
