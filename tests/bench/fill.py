"""Fills a site with a history of bookings, and prints the coordinator's session and a booking of today.

The rows are written as a long history would have left them, not by the actions: ten thousand bookings are a setting, not a
claim.
"""

import os
import sys
from datetime import date, timedelta
from decimal import Decimal
from importlib import import_module

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.bench.settings")
django.setup()

from django.conf import settings  # noqa: E402
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY  # noqa: E402
from django.utils import timezone  # noqa: E402

from kitshare.bookings.models import BookedDay, Booking, DayKind, Season, Stage  # noqa: E402
from kitshare.kits.models import Depot, Kit, Machine, MachineKind, Part  # noqa: E402
from kitshare.people.models import Member, Scheme, Village  # noqa: E402


def fill(bookings: int) -> tuple[str, int]:
    """A scheme with a whole history: a session of the coordinator, and the booking in the middle of it."""
    now, today = timezone.now(), date.today()  # noqa: DTZ011
    Scheme.objects.create(pk=1, name="Bench", telephone="01632 960 100")
    member = Member.objects.create(name="Perpetua", email="perpetua@example.org", coordinates=True)
    member.set_unusable_password()
    member.save()
    depot = Depot.objects.create(name="Shed")
    kits = [Kit.objects.create(name=f"Kit {number}", depot=depot) for number in range(4)]
    kinds = (MachineKind.MILL, MachineKind.PRESS, MachineKind.PASTEURISER)
    machines = [Machine.objects.create(kit=kit, name=f"{kit} {kind}", kind=kind) for kit in kits for kind in kinds]
    Part.objects.bulk_create(
        Part(machine=machine, name=f"Part {number}", position=number) for machine in machines for number in range(10)
    )
    villages = [Village.objects.create(name=f"Village {number}") for number in range(20)]
    first = today - timedelta(days=bookings // 4 * 3)  # four kits, three days each, up to the end of the book
    first += timedelta(days=45)
    Season.objects.create(name="Now", opens_on=today - timedelta(days=40), closes_on=today + timedelta(days=60))
    rows, of_machines, days = [], [], []
    for number in range(bookings):
        out_on = first + timedelta(days=number // 4 * 3)
        stage = Stage.CLOSED if out_on < today else Stage.AGREED
        rows.append(
            Booking(
                pk=number + 1,
                village=villages[number % 20],
                borrower=member,
                stage=stage,
                out_on=out_on,
                back_on=out_on + timedelta(days=2),
                fruit_amount=300,
                fruit_kg=Decimal(300),
                asked_at=now,
                changed_at=now,
            )
        )
        for machine in machines[number % 4 * 3 : number % 4 * 3 + 3]:
            of_machines.append(Booking.machines.through(booking_id=number + 1, machine_id=machine.pk))
            days += [
                BookedDay(machine=machine, day=out_on + timedelta(days=day), kind=kind, booking_id=number + 1)
                for day, kind in enumerate((DayKind.BOOKED, DayKind.BOOKED, DayKind.CARE))
            ]
    Booking.objects.bulk_create(rows, batch_size=500)
    Booking.machines.through.objects.bulk_create(of_machines, batch_size=500)
    BookedDay.objects.bulk_create(days, batch_size=500)
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY] = str(member.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = member.get_session_auth_hash()
    session.save()
    middle = min(rows, key=lambda row: abs((row.out_on - today).days))
    return str(session.session_key), middle.pk


if __name__ == "__main__":
    print(*fill(int(sys.argv[1])))  # noqa: T201
