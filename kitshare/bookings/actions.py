"""Every deed that changes a booking.

Each locks the machines first, in key order, then the booking: so a fault reported and a pickup signed at the same
moment see each other, and no two deeds wait for each other. Each raises the revision by one and writes one line whose
deed starts with "booking_": what happened since a page was opened is read from those lines.
"""

import uuid
from collections.abc import Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings import days, eligibility, notices, offering, recording, relays, times
from kitshare.bookings.models import Booking, FruitUnitChoice, Stage
from kitshare.bookings.refusals import FruitNotSensible, ReasonMissing, WeightNotSaid
from kitshare.bookings.words import days_in_words, machines_in_words
from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Scheme, Village
from kitshare.rules.periods import Period
from kitshare.rules.units import AmountRefused, FruitUnit, WeightUnknown, fruit_kg
from kitshare.upkeep import use
from kitshare.upkeep.use_models import UseSource

MOST_FRUIT_KG: Final = Decimal(20_000)
ONE_DECIMAL: Final = Decimal("0.1")


@deed
def book_kit(
    *,
    village: Village,
    borrower: Member,
    machines: Sequence[Machine],
    period: Period,
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
    """Ask for machines over some days. The days are held from now on, while a coordinator decides.

    Without times of day people meet at the scheme's usual ones.
    A form sends a key of its own: sent twice, it is one booking, and the second answer is the first.
    """
    locked = days.lock_machines(machine.pk for machine in machines)
    asked = f"{by.pk} {village.pk} {[machine.pk for machine in locked]} {period}"
    uid = uuid.uuid5(form_key, asked) if form_key else uuid.uuid4()
    asked_before = Booking.objects.filter(uid=uid).first()
    if asked_before is not None:
        return asked_before
    eligibility.check_can_book(village=village, borrower=borrower, machines=locked, period=period, by=by, today=today)
    amount, kg = weigh(amount=fruit_amount, unit=fruit_unit)
    out_time, back_time = times.usual(out_time, back_time)
    booking = Booking(
        uid=uid,
        village=village,
        borrower=borrower,
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
    days.hold(booking=booking, machines=locked, today=today)
    times.check_in_order(machines=locked, period=period, out_time=out_time, back_time=back_time, besides=booking)
    text = _("%(who)s asked for %(machines)s for %(village)s, %(days)s.")
    recording.record("booking_asked", text, booking=booking, machines=locked, by=by, at=at)
    notices.asked(booking=booking, machines=locked, by=by, at=at)
    return booking


@deed
def agree(*, booking: Booking, by: Member, at: datetime, today: date, revision: int) -> Booking:
    """Promise the machines to the village."""
    booking, machines = recording.lock(booking, revision)
    eligibility.check_can_agree(booking=booking, machines=machines, by=by, today=today)
    recording.move_to(Stage.AGREED, booking=booking, at=at)
    text = _("%(who)s agreed the booking of %(village)s: %(machines)s, %(days)s.")
    recording.record("booking_agreed", text, booking=booking, machines=machines, by=by, at=at)
    notices.agreed(booking=booking, machines=machines, by=by, at=at)
    return booking


@deed
def decline(*, booking: Booking, reason: str, by: Member, at: datetime, revision: int) -> Booking:
    """Turn the village down, with the reason, and set the days free."""
    rivals = offering.beside(booking)
    booking, machines = recording.lock(booking, revision, also=rivals)
    eligibility.check_can_decline(booking=booking, by=by)
    if not reason.strip():
        raise ReasonMissing
    recording.end(Stage.DECLINED, booking=booking, reason=reason, at=at)
    relays.let_go(booking=booking, machines=machines, by=by, at=at, is_over=True)
    text = _("%(who)s declined the booking of %(village)s, %(days)s: %(reason)s")
    recording.record("booking_declined", text, booking=booking, machines=machines, by=by, at=at)
    notices.declined(booking=booking, machines=machines, by=by, at=at)
    offering.offer_next(locked=[*machines, *rivals], at=at)
    return booking


@deed
def call_off(*, booking: Booking, reason: str, by: Member, at: datetime, revision: int) -> Booking:
    """Give up a booking before the kit has left, and set the days free."""
    rivals = offering.beside(booking)
    booking, machines = recording.lock(booking, revision, also=rivals)
    eligibility.check_can_call_off(booking=booking, by=by)
    recording.end(Stage.CALLED_OFF, booking=booking, reason=reason, at=at)
    relays.let_go(booking=booking, machines=machines, by=by, at=at, is_over=True)
    text = _("%(who)s called off the booking of %(village)s, %(days)s. %(reason)s")
    recording.record("booking_called_off", text, booking=booking, machines=machines, by=by, at=at)
    notices.called_off(booking=booking, machines=machines, by=by, at=at)
    offering.offer_next(locked=[*machines, *rivals], at=at)
    return booking


@deed
def change_booking(
    *,
    booking: Booking,
    machines: Sequence[Machine],
    period: Period,
    fruit_amount: Decimal,
    fruit_unit: str,
    note: str,
    by: Member,
    at: datetime,
    today: date,
    revision: int,
    out_time: time | None = None,
    back_time: time | None = None,
) -> Booking:
    """Change what is booked. Other days are taken and the old ones given back in one go, or neither.

    When a borrower moves an agreed booking, it waits for a coordinator again.
    """
    rivals = offering.beside(booking)
    booking, old_machines = recording.lock(booking, revision, also=[*machines, *rivals])
    eligibility.check_can_change(booking=booking, by=by)
    wanted = {machine.pk for machine in machines}
    new_machines = [machine for machine in days.lock_machines(wanted) if machine.pk in wanted]
    is_moved = eligibility.check_can_move(booking=booking, machines=new_machines, period=period, today=today)
    before = _facts(booking, old_machines)
    amount, kg = booking.fruit_amount, booking.fruit_kg
    if (fruit_amount, fruit_unit) != (amount, booking.fruit_unit):
        amount, kg = weigh(amount=fruit_amount, unit=fruit_unit)
    booking.out_on, booking.back_on = period.start, period.end
    booking.out_time, booking.back_time = out_time or booking.out_time, back_time or booking.back_time
    booking.fruit_amount, booking.fruit_unit, booking.fruit_kg, booking.note = amount, fruit_unit, kg, note
    changed = [key for key, sentence in _facts(booking, new_machines).items() if sentence != before[key]]

    def changes() -> list[str]:
        facts = _facts(booking, new_machines)
        return [facts[key] for key in changed]

    if not changed:
        return booking
    if is_moved or "times" in changed:
        _resettle(booking, new_machines, is_moved=is_moved, by=by, at=at, today=today)
    recording.save(booking, at=at)
    text = _("%(who)s changed the booking of %(village)s. %(changes)s")
    touched = list({machine.pk: machine for machine in [*old_machines, *new_machines]}.values())
    recording.record(
        "booking_changed", text, booking=booking, machines=touched, by=by, at=at, changes=" ".join(changes())
    )
    notices.changed(booking=booking, machines=new_machines, changes=changes, by=by, at=at)
    offering.offer_next(locked=[*old_machines, *rivals], at=at)
    return booking


@deed
def mark_out(
    *, booking: Booking, by: Member, at: datetime, today: date | None = None, in_spite: bool = False
) -> Booking:
    """Record that the machines have left with the village: today, unless it was on another day.

    `in_spite`: they have left, though one of them is set aside.
    """
    booking, machines = recording.lock(booking)
    scheme = Scheme.objects.current()
    today = today or at.astimezone(scheme.zone if scheme else at.tzinfo).date()
    eligibility.check_can_mark_out(booking=booking, machines=machines, by=by, today=today, in_spite=in_spite)
    days.hold_early_days(booking=booking, machines=machines, from_day=today)
    recording.move_to(Stage.OUT, booking=booking, at=at)
    text = _("Handed over to %(village)s: %(machines)s, to be back by %(back)s.")
    recording.record("booking_out", text, booking=booking, machines=machines, by=by, at=at)
    return booking


@deed
def mark_back(*, booking: Booking, by: Member, at: datetime, today: date) -> Booking:
    """Record that the machines are back; days not used become free, and the care days follow the return.

    Until somebody records what the day gave, the machines are taken to have done the fruit that was expected.
    """
    booking, machines = recording.lock(booking)
    eligibility.check_can_mark_back(booking=booking, by=by)
    relays.let_go(booking=booking, machines=machines, by=by, at=at, is_over=True)
    days.shift_return(booking=booking, machines=machines, today=today)
    recording.move_to(Stage.BACK, booking=booking, at=at)
    note_expected_use(booking, machines)
    text = _("Back from %(village)s: %(machines)s.")
    recording.record("booking_back", text, booking=booking, machines=machines, by=by, at=at)
    offering.offer_next(locked=machines, at=at)
    return booking


def note_expected_use(booking: Booking, machines: Sequence[Machine]) -> None:
    """Note that the machines did the fruit that was expected, unless somebody recorded what they did. For deeds."""
    expected = use.Work(day=booking.out_on, machines=tuple(machines), kg=booking.fruit_kg)
    use.note_use(booking_key=booking.pk, work=[expected], source=UseSource.ESTIMATED)


@deed
def close(*, booking: Booking, by: Member, at: datetime) -> Booking:
    """Put the booking away: everything about it is done."""
    booking, machines = recording.lock(booking)
    eligibility.check_can_close(booking=booking, by=by)
    recording.move_to(Stage.CLOSED, booking=booking, at=at)
    text = _("%(who)s closed the booking of %(village)s, %(days)s.")
    recording.record("booking_closed", text, booking=booking, machines=machines, by=by, at=at)
    return booking


def weigh(*, amount: Decimal, unit: str, scheme: Scheme | None = None) -> tuple[Decimal, Decimal]:
    """The amount to one decimal, and its kilograms by what the scheme says of each unit. Raises FruitNotSensible."""
    scheme = scheme or Scheme.objects.current() or Scheme()
    others = {
        FruitUnit.BUSHEL: scheme.bushel_kg,
        FruitUnit.SMALL_TREE: scheme.small_tree_kg,
        FruitUnit.LARGE_TREE: scheme.large_tree_kg,
    }
    try:
        rounded = amount.quantize(ONE_DECIMAL) if amount.is_finite() and abs(amount) < MOST_FRUIT_KG * 10 else amount
        kg = fruit_kg(
            rounded, FruitUnit(unit), crate_kg=scheme.crate_kg, sack_kg=scheme.sack_kg, others=others
        ).quantize(ONE_DECIMAL)
    except WeightUnknown as error:
        raise WeightNotSaid from error
    except (AmountRefused, ValueError) as error:
        raise FruitNotSensible from error
    if not 0 < kg <= MOST_FRUIT_KG:
        raise FruitNotSensible
    return rounded, kg


def _resettle(
    booking: Booking, machines: Sequence[Machine], *, is_moved: bool, by: Member, at: datetime, today: date
) -> None:
    """Give back the old days and take the new ones; whom it meets on its first and last day must be able to meet it."""
    if is_moved:
        days.set_free(booking)
    relays.let_go(booking=booking, machines=machines, by=by, at=at)
    if is_moved:
        days.hold(booking=booking, machines=machines, today=today)
        booking.machines.set(machines)
        booking.stage = booking.stage if by.coordinates else Stage.ASKED
    meets = {"out_time": booking.out_time, "back_time": booking.back_time}
    times.check_in_order(machines=machines, period=booking.period, **meets, besides=booking)
    booking.sequence += 1


def _facts(booking: Booking, machines: Sequence[Machine]) -> dict[str, str]:
    """What a change can change, a sentence each: those that differ say how the booking stands now."""
    words = {
        "days": days_in_words(booking.period),
        "out_time": f"{booking.out_time:%H:%M}",
        "back_time": f"{booking.back_time:%H:%M}",
        "machines": machines_in_words(machines),
        "amount": f"{booking.fruit_amount.normalize():f}",
        "unit": FruitUnitChoice(booking.fruit_unit).label,
        "note": booking.note,
    }
    return {
        "days": _("Days now: %(days)s.") % words,
        "times": _("Times now: collected at %(out_time)s, brought back at %(back_time)s.") % words,
        "machines": _("Machines now: %(machines)s.") % words,
        "fruit": _("Fruit now: %(amount)s %(unit)s.") % words,
        "note": (_("Note now: %(note)s") if booking.note else _("The note was taken out.")) % words,
    }
