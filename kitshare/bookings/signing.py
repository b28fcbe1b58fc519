"""Who signs for a booking: handing it to another borrower, and not losing whoever signs while it is not over."""

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import TypedDict, Unpack

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from kitshare.bookings import eligibility, notices, recording
from kitshare.bookings.days import lock_all_machines
from kitshare.bookings.models import HOLDING, Booking
from kitshare.engine import deed
from kitshare.people import actions as people
from kitshare.people.models import Member, Village
from kitshare.people.refusals import PeopleRefused


class MemberFacts(TypedDict):
    """What else is known of a member, and who changes it."""

    name: str
    email: str | None
    telephone: str
    coordinates: bool
    maintains: bool
    by: Member
    at: datetime


class StillSigns(PeopleRefused):
    """Somebody who should sign no longer has bookings that are not over."""

    def __init__(self, member: Member, bookings: Iterable[Booking], *, field: str) -> None:
        self.field = field
        self.bookings = list(bookings)
        named = "; ".join(f"{one.village.name}, {date_format(one.out_on, 'D j M Y')}" for one in self.bookings)
        sentence = _(
            "%(name)s signs for bookings that are not over: %(named)s."
            " First choose on each booking’s page who signs instead, or call it off."
        )
        super().__init__(sentence % {"name": member.name, "named": named})


def signed_for(member: Member) -> list[Booking]:
    """The bookings, not over yet, for which a member signs, soonest first."""
    held = Booking.objects.filter(borrower=member, stage__in=HOLDING)
    return list(held.select_related("village").order_by("out_on", "pk"))


def others_sign(booking: Booking) -> bool:
    """Whether the village has another borrower who could sign for a booking."""
    return bool(booking.village.borrowers.active().exclude(pk=booking.borrower_id).exists())


@deed
def change_member(
    *,
    member: Member,
    borrows: bool,
    is_active: bool,
    villages: Collection[Village],
    seen: int | None = None,
    **facts: Unpack[MemberFacts],
) -> Member:
    """Change a member, unless somebody would be left without the one who signs."""
    lock_all_machines()  # a booking under way has locked its own: it is seen here, or sees that they sign no longer
    held = signed_for(member)
    if held and not is_active:
        raise StillSigns(member, held, field="is_active")
    if held and not borrows:
        raise StillSigns(member, held, field="borrows")
    kept = {village.pk for village in villages}
    if lost := [booking for booking in held if booking.village_id not in kept]:
        raise StillSigns(member, lost, field="villages")
    return people.change_member(
        member=member, borrows=borrows, is_active=is_active, villages=villages, seen=seen, **facts
    )


@deed
def change_village(
    *,
    village: Village,
    name: str,
    note: str,
    borrowers: Collection[Member],
    by: Member,
    at: datetime,
    seen: int | None = None,
) -> Village:
    """Change a village, unless one of its bookings would be left without the one who signs."""
    lock_all_machines()
    for member in set(village.borrowers.all()) - set(borrowers):
        if held := [booking for booking in signed_for(member) if booking.village_id == village.pk]:
            raise StillSigns(member, held, field="borrowers")
    return people.change_village(village=village, name=name, note=note, borrowers=borrowers, by=by, at=at, seen=seen)


@deed
def sign_over(*, booking: Booking, borrower: Member, by: Member, at: datetime, revision: int) -> Booking:
    """Let another borrower of the village sign for a booking from now on; both are told."""
    booking, machines = recording.lock(booking, revision)
    eligibility.check_can_sign_over(booking=booking, by=by, borrower=borrower)
    before = booking.borrower
    if before == borrower:
        return booking
    booking.borrower = borrower
    booking.sequence += 1
    recording.save(booking, at=at)
    text = _("%(who)s chose who signs for the booking of %(village)s, %(days)s: %(changes)s")
    changes = _("%(now)s instead of %(before)s.") % {"now": borrower.name, "before": before.name}
    recording.record("booking_signed_over", text, booking=booking, machines=machines, by=by, at=at, changes=changes)
    notices.signed_over(booking=booking, machines=machines, before=before, by=by, at=at)
    return booking
