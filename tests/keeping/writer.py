"""Asks for a machine and calls it off, again and again, until its input ends: what a site does while it is backed up.

python -m tests.keeping.writer
"""

import select
import sys
from datetime import timedelta
from decimal import Decimal

import django

django.setup()

from django.utils import timezone  # noqa: E402

from kitshare.bookings import actions as bookings  # noqa: E402
from kitshare.kits.models import Machine  # noqa: E402
from kitshare.people.models import Member, Village  # noqa: E402
from kitshare.rules.periods import Period  # noqa: E402


def write() -> None:
    by = Member.objects.get(email="perpetua@example.org")
    village, machine = (
        Village.objects.borrowing().exclude(borrowers=None).order_by("pk")[0],
        Machine.objects.order_by("pk")[0],
    )
    borrower = village.borrowers.order_by("pk")[0]
    number = 0
    while not select.select([sys.stdin], [], [], 0)[0]:
        at = timezone.now()
        first = at.date() + timedelta(days=60)
        booking = bookings.book_kit(
            village=village, borrower=borrower, machines=[machine], period=Period(start=first, end=first + timedelta(days=3)),
            fruit_amount=Decimal(200), fruit_unit="kg", note="meanwhile", by=by, at=at, today=at.date(),
        )  # fmt: skip
        bookings.call_off(booking=booking, reason="rain", by=by, at=at, revision=booking.revision)
        number += 1
        print(number, flush=True)  # noqa: T201


write()
