"""Deeds on the waiting list: joining it, leaving it, and overruling its order with a reason."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime, time
from decimal import Decimal

from django.db.models import Max
from django.utils.translation import gettext as _

from kitshare.bookings import actions as bookings
from kitshare.bookings import days, eligibility, offer_notices, offering, recording, times, waiting_list
from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.refusals import BookingRefused, NotTheirs
from kitshare.bookings.waiting_list import Entry
from kitshare.bookings.waiting_models import MOST_PLAY_DAYS, Offer, Standing, WaitingPlace
from kitshare.bookings.waiting_refusals import DaysAreFree, NobodyThere, NotWaiting, OrderReasonMissing, WaitsAlready
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import Period


class PlayNotSensible(BookingRefused):
    """More days earlier or later than the list allows."""

    field = "play_days"

    def __init__(self) -> None:
        super().__init__(_("At most %(most)d days earlier or later.") % {"most": MOST_PLAY_DAYS})


@deed
def wait_for_days(
    *,
    village: Village,
    borrower: Member,
    machines: Sequence[Machine],
    period: Period,
    play_days: int = 0,
    fruit_amount: Decimal,
    fruit_unit: str,
    note: str,
    by: Member,
    at: datetime,
    today: date,
    form_key: uuid.UUID | None = None,
    out_time: time | None = None,
    back_time: time | None = None,
) -> Booking:
    """Wait for days that somebody has, at the end of the order. Sent twice, a form is one place on the list."""
    locked = days.lock_machines(machine.pk for machine in machines)
    asked = f"wait {by.pk} {village.pk} {[machine.pk for machine in locked]} {period}"
    uid = uuid.uuid5(form_key, asked) if form_key else uuid.uuid4()
    asked_before = Booking.objects.filter(uid=uid).first()
    if asked_before is not None:
        return asked_before
    eligibility.check_can_book(village=village, borrower=borrower, machines=locked, period=period, by=by, today=today)
    _check_can_wait(village=village, machines=locked, period=period, play_days=play_days)
    amount, kg = bookings.weigh(amount=fruit_amount, unit=fruit_unit)
    out_time, back_time = times.usual(out_time, back_time)
    booking = Booking(
        uid=uid,
        village=village,
        borrower=borrower,
        stage=Stage.WAITING,
        out_on=period.start,
        back_on=period.end,
        out_time=out_time,
        back_time=back_time,
        fruit_amount=amount,
        fruit_unit=fruit_unit,
        fruit_kg=kg,
        note=note,
        asked_at=at,
        changed_at=at,
    )
    booking.save()
    booking.machines.set(locked)
    last = WaitingPlace.objects.aggregate(last=Max("place"))["last"] or 0
    WaitingPlace(booking=booking, place=last + 1, wanted_on=period.start, play_days=play_days).save(force_insert=True)
    text = _("%(who)s put %(village)s on the waiting list for %(machines)s, %(days)s.")
    recording.record("booking_waiting", text, booking=booking, machines=locked, by=by, at=at)
    offer_notices.waits(booking=booking, by=by, at=at)
    # With some play, days beside the ones wanted may be free at once.
    offering.offer_next(locked=locked, at=at)
    booking.refresh_from_db()
    return booking


def _check_can_wait(*, village: Village, machines: Sequence[Machine], period: Period, play_days: int) -> None:
    if not 0 <= play_days <= MOST_PLAY_DAYS:
        raise PlayNotSensible
    if not days.holdings(machines=machines, period=period):
        raise DaysAreFree
    same = Booking.objects.waiting().filter(village=village, machines__in=machines)
    already = same.filter(waiting_place__wanted_on=period.start).order_by("pk").first()
    if already is not None:
        raise WaitsAlready(booking=already)


@deed
def leave_list(*, booking: Booking, by: Member, at: datetime, reason: str = "", revision: int | None = None) -> Booking:
    """Give up a place on the list; days that were offered go on to the next."""
    rivals = offering.beside(booking)
    booking, machines = recording.lock(booking, revision, also=rivals)
    check_can_leave(booking=booking, by=by)
    offer = Offer.objects.open().filter(booking=booking).first()
    if offer is not None:
        offering.end(offer, Standing.PASSED, booking=booking, at=at, rests=True)
    recording.end(Stage.CALLED_OFF, booking=booking, reason=reason, at=at)
    text = _("%(who)s took %(village)s off the waiting list for %(machines)s, %(days)s. %(reason)s")
    recording.record("booking_waiting_left", text, booking=booking, machines=machines, by=by, at=at)
    offer_notices.left(booking=booking, by=by, at=at)
    if offer is not None:
        offering.offer_next(locked=[*machines, *rivals], at=at)
    return booking


@deed
def move_in_order(
    *, booking: Booking, earlier: bool, reason: str, by: Member, at: datetime, revision: int | None = None
) -> Booking:
    """Let somebody change places with the nearest before or after them who wants some of the same days."""
    booking, machines = recording.lock(booking, revision)
    if not by.coordinates:
        raise NotTheirs
    if booking.stage != Stage.WAITING:
        raise NotWaiting(booking=booking)
    if not reason.strip():
        raise OrderReasonMissing
    # Whoever changes the order takes all of it in hand: two moves at once would each undo the other.
    places = {place.pk: place for place in WaitingPlace.objects.select_for_update(no_key=True).order_by("pk")}
    every = waiting_list.entries(Booking.objects.all())
    other = _neighbour(every, booking, earlier=earlier)
    order = [entry.booking.pk for entry in every if entry.booking.pk != booking.pk]
    order.insert(order.index(other.booking.pk) + (0 if earlier else 1), booking.pk)
    for number, key in enumerate(order, start=1):
        if places[key].place != number:
            WaitingPlace.objects.filter(pk=key).update(place=number)
    words = {"moved_by": by, "moved_at": at, "moved_reason": reason.strip()[:300]}
    WaitingPlace.objects.filter(pk=booking.pk).update(**words)
    recording.save(booking, at=at)
    where = _("before %(other)s") if earlier else _("after %(other)s")
    text = _("%(who)s moved %(village)s on the waiting list for %(machines)s, %(days)s: %(changes)s")
    changes = f"{where % {'other': other.booking.village.name}}. {reason.strip()}"
    recording.record("booking_waiting_moved", text, booking=booking, machines=machines, by=by, at=at, changes=changes)
    return booking


def _neighbour(every: Sequence[Entry], booking: Booking, *, earlier: bool) -> Entry:
    own = next(entry for entry in every if entry.booking.pk == booking.pk)
    rivals = waiting_list.ahead_of(own, every) if earlier else waiting_list.behind(own, every)
    if not rivals:
        raise NobodyThere
    return rivals[-1] if earlier else rivals[0]


def check_can_leave(*, booking: Booking, by: Member) -> None:
    """A coordinator or a borrower of the village, while it waits."""
    if not by.acts_for(booking.village):
        raise NotTheirs
    if booking.stage != Stage.WAITING:
        raise NotWaiting(booking=booking)
