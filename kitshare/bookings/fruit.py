"""The fruit of a booking, said anew without changing anything else of it."""

from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from kitshare.bookings import eligibility, notices, recording
from kitshare.bookings.actions import weigh
from kitshare.bookings.models import Booking, FruitUnitChoice
from kitshare.engine import deed
from kitshare.people.models import Member


@deed
def change_fruit(*, booking: Booking, fruit_amount: Decimal, fruit_unit: str, by: Member, at: datetime) -> Booking:
    """Say how much fruit is expected now. Those who heard of the booking hear of this."""
    booking, machines = recording.lock(booking)
    eligibility.check_can_change(booking=booking, by=by)
    amount, kg = weigh(amount=fruit_amount, unit=fruit_unit)
    if (amount, fruit_unit) == (booking.fruit_amount, booking.fruit_unit):
        return booking
    booking.fruit_amount, booking.fruit_unit, booking.fruit_kg = amount, fruit_unit, kg
    recording.save(booking, at=at)

    def change() -> str:
        words = {"amount": f"{amount.normalize():f}", "unit": FruitUnitChoice(fruit_unit).label}
        return _("Fruit now: %(amount)s %(unit)s.") % words

    text = _("%(who)s changed the booking of %(village)s. %(changes)s")
    recording.record("booking_changed", text, booking=booking, machines=machines, by=by, at=at, changes=change())
    notices.changed(booking=booking, machines=machines, changes=lambda: [change()], by=by, at=at)
    return booking
