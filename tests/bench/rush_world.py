"""The scheme of `tests.bench.rush`: `fill PEOPLE` prints the weekends, `promised_twice` how many were given out twice."""

import json
import os
import sys
from datetime import date, timedelta

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kitshare.settings")
if __name__ == "__main__":
    django.setup()

from django.contrib.auth.hashers import make_password

from kitshare.bookings.models import Booking, Season, Stage
from kitshare.kits.models import Depot, Kit, Machine, MachineKind, Part
from kitshare.people.models import Member, Scheme, Village
from tests.bench.rush import PASSWORD

WEEKENDS = 3
HOLDS = (Stage.ASKED, Stage.AGREED, Stage.OUT)


def fill(people: int) -> list[list[str]]:
    today = date.today()  # noqa: DTZ011
    Scheme.objects.create(pk=1, name="Rush", telephone="01632 960 100")
    Season.objects.create(name="Now", opens_on=today - timedelta(days=1), closes_on=today + timedelta(days=90))
    depot = Depot.objects.create(name="Shed")
    for number in range(4):
        kit = Kit.objects.create(name=f"Kit {number}", depot=depot)
        for kind in (MachineKind.MILL, MachineKind.PRESS, MachineKind.PASTEURISER):
            machine = Machine.objects.create(kit=kit, name=f"Kit {number} {kind}", kind=kind)
            Part.objects.bulk_create(Part(machine=machine, name=f"Part {one}", position=one) for one in range(10))
    # One real hash for all: looking at it costs what looking at any costs.
    password = make_password(PASSWORD)
    members = [
        Member(name=f"Person {number}", email=f"person{number}@example.org", password=password, borrows=True)
        for number in range(people)
    ]
    Member.objects.bulk_create(members)
    villages = [Village.objects.create(name=f"Village {number}") for number in range(max(1, people // 10))]
    for number, member in enumerate(Member.objects.order_by("pk")):
        villages[number % len(villages)].borrowers.add(member)
    saturday = today + timedelta(days=(5 - today.weekday()) % 7 + 7)
    starts = [saturday + timedelta(weeks=week) for week in range(WEEKENDS)]
    return [[start.isoformat(), (start + timedelta(days=1)).isoformat()] for start in starts]


def promised_twice() -> int:
    """Pairs of bookings that hold one machine on one day, by what the bookings say and not by the table of days."""
    held = [
        (machine.pk, booking.out_on, booking.back_on, booking.pk)
        for booking in Booking.objects.filter(stage__in=HOLDS).prefetch_related("machines")
        for machine in booking.machines.all()
    ]
    return sum(
        one[0] == other[0] and one[3] < other[3] and one[1] < other[2] and other[1] < one[2]
        for one in held
        for other in held
    )


if __name__ == "__main__":
    print(json.dumps(fill(int(sys.argv[2]))) if sys.argv[1] == "fill" else promised_twice())  # noqa: T201
