"""A notice is written in the language of whoever reads it, not of whoever did the deed."""

from kitshare.bookings import actions as bookings
from kitshare.outbox.models import Message


def test_who_signs_is_told_with_the_days_of_their_own_language(ask, sunniva, perpetua, now, today, settings):
    """Django itself knows the names of days in German: Saturday is "Sa"."""
    settings.LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
    sunniva.language = "de"
    sunniva.save(update_fields=["language"])
    booking = ask()

    bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)

    letters = Message.objects.filter(thread=f"booking:{booking.pk}")
    assert letters.get(key__startswith="booking-asked").subject.endswith("Sat 11 Sep")
    assert letters.get(key__startswith="booking-agreed").subject.endswith("Sa 11 Sep")
