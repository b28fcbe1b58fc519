"""What tests of the waiting list ask for: villages that wait for days that Sorrelhythe has."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings import waiting
from kitshare.bookings.models import BookedDay, Booking
from kitshare.bookings.waiting_models import Offer
from kitshare.people.models import Member, Village
from tests.bookings.conftest import september

WEEKEND = september(11, 13)


def on(day: int, hour: int = 9, minute: int = 0) -> datetime:
    """A moment in September 2027."""
    return datetime(2027, 9, day, hour, minute, tzinfo=UTC)


def village_of(name: str, borrower: str, *, email: bool = True) -> Village:
    """A village with one borrower."""
    address = f"{borrower.split(maxsplit=1)[0].lower()}@example.org" if email else None
    member = Member(name=borrower, email=address, telephone="01632 960 300", borrows=True)
    member.set_unusable_password()
    member.save()
    village = Village.objects.create(name=name)
    village.borrowers.add(member)
    return village


@pytest.fixture
def linnowby(scheme) -> Village:
    return village_of("Linnowby", "Hamza Wetherlow")


@pytest.fixture
def ferrow(scheme) -> Village:
    """Its borrower has no e-mail address."""
    return village_of("Tŷ-Ferrow", "Emrys ap Ferrow", email=False)


@pytest.fixture
def wait(season, mill, now, today):
    """A village waits for the Heron mill, Sat 11 to Mon 13 Sep, unless told otherwise."""

    def wait(village: Village, **changes) -> Booking:
        borrower = village.borrowers.get()
        asked = {
            "village": village,
            "borrower": borrower,
            "machines": [mill],
            "period": WEEKEND,
            "fruit_amount": Decimal("300"),
            "fruit_unit": "kg",
            "note": "",
            "by": borrower,
            "at": now,
            "today": today,
        }
        return waiting.wait_for_days(**(asked | changes))

    return wait


@pytest.fixture
def taken(ask):
    """Sorrelhythe has the Heron mill, Sat 11 to Mon 13 Sep."""
    return ask()


@pytest.fixture
def free(perpetua, now):
    """Call a booking off."""

    def free(booking: Booking, at: datetime | None = None) -> Booking:
        booking.refresh_from_db()
        return bookings.call_off(booking=booking, reason="", by=perpetua, at=at or now, revision=booking.revision)

    return free


def open_offers() -> list[tuple[str, str]]:
    """To whom which days are offered now, by the name of the village."""
    offers = Offer.objects.open().select_related("booking__village").order_by("booking__village__name")
    return [(one.booking.village.name, f"{one.out_on:%d}-{one.back_on:%d}") for one in offers]


def holders(machine, day=WEEKEND.start) -> list[str]:
    """Which villages hold a machine on a day: one or none."""
    rows = BookedDay.objects.filter(machine=machine, day=day)
    return list(rows.values_list("booking__village__name", flat=True))


def later(at: datetime, **time: int) -> datetime:
    return at + timedelta(**time)
