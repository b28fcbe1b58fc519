"""What every deed on offers is made of: making one, ending one, and finding the next. They are parts of deeds.

Whoever gives days to somebody who waits has locked all the machines that these ask for; whoever only takes an offer
back has locked one of them at least. As every deed on a booking locks its machines first, one of two rivals waits.
"""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from kitshare.bookings import days, offer_notices, recording, times, waiting_list
from kitshare.bookings.models import BookedDay, Booking, Stage
from kitshare.bookings.refusals import MachineTaken
from kitshare.bookings.waiting_list import Entry
from kitshare.bookings.waiting_models import Offer, Standing, WaitingPlace
from kitshare.bookings.words import days_in_words, machines_in_words
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.outbox.speaking import Said
from kitshare.people.models import Member, Scheme
from kitshare.rules import turns
from kitshare.rules.periods import Period
from kitshare.rules.turns import MachineDay


def beside(booking: Booking) -> list[Machine]:
    """The machines of everybody who waits for one of this booking's: who frees days locks them too."""
    wanted = waiting_list.wanted_machines()
    own = set(booking.machines.values_list("pk", flat=True)) if wanted else set()
    keys = {key for machines in wanted.values() if machines & own for key in machines}
    return list(Machine.objects.filter(pk__in=keys).order_by("pk")) if keys else []


def offer_next(*, locked: Iterable[Machine], at: datetime) -> int:
    """Offer what is free of some machines to whoever is the first who waits and fits; how many offers were made.

    Somebody whose turn it is and who asks for a machine that is not locked too is left to the next round, and so are
    those who wait behind them for the same days.
    """
    keys = {machine.pk for machine in locked}
    concerned = [booking for booking, machines in waiting_list.wanted_machines().items() if machines & keys]
    scheme = Scheme.objects.current() if concerned else None
    if scheme is None:
        return 0
    entries = waiting_list.entries(Booking.objects.filter(pk__in=concerned))
    return _offer_to(entries, keys, scheme=scheme, at=at)


def _offer_to(entries: Collection[Entry], locked: Collection[int], *, scheme: Scheme, at: datetime) -> int:
    fitting = {entry.booking.pk: entry for entry in entries if entry.offer is None and not entry.why_not}
    not_before = turns.first_day_to_offer(at=at, zone=scheme.zone)
    promised, taken = waiting_list.taken_days(fitting.values(), from_day=not_before)
    waits = [entry.wait for entry in fitting.values()]
    awake = turns.awake_again(waits, promised=promised, not_before=not_before)
    if awake:
        WaitingPlace.objects.filter(pk__in=awake).update(rests=False)
    made = 0
    for turn in turns.turns(waits, taken=taken, not_before=not_before):
        entry = fitting[turn.key]
        if entry.wait.care_days.keys() <= set(locked):
            made += make(entry, turn.spell, scheme=scheme, at=at) is not None
    return made


def is_due(entries: Collection[Entry], *, scheme: Scheme, at: datetime) -> bool:
    """Whether a round would do anything: it then takes the machines in hand, and looks again."""
    if any(ran_out(entry, at) or is_over(entry, scheme, at) or (entry.offer and entry.why_not) for entry in entries):
        return True
    fitting = [entry for entry in entries if entry.offer is None and not entry.why_not]
    not_before = turns.first_day_to_offer(at=at, zone=scheme.zone)
    promised, taken = waiting_list.taken_days(fitting, from_day=not_before)
    waits = [entry.wait for entry in fitting]
    return bool(
        turns.awake_again(waits, promised=promised, not_before=not_before)
        or turns.turns(waits, taken=taken, not_before=not_before)
    )


def ran_out(entry: Entry, at: datetime) -> bool:
    return entry.offer is not None and entry.offer.until <= at


def is_over(entry: Entry, scheme: Scheme, at: datetime) -> bool:
    """Whether nothing that it waits for can still be offered."""
    return entry.offer is None and entry.last_start < turns.first_day_to_offer(at=at, zone=scheme.zone)


def make(
    entry: Entry, spell: Period, *, scheme: Scheme, at: datetime, by: Member | None = None, reason: str = ""
) -> Offer | None:
    """Hold the days for somebody who waits, and tell them until when. None when the days were not free after all."""
    booking = entry.booking
    until = turns.answer_by(at=at, hours=scheme.offer_hours, first_day=spell.start, zone=scheme.zone)
    offer = Offer(
        booking=booking,
        out_on=spell.start,
        back_on=spell.end,
        made_at=at,
        until=until,
        out_of_turn_by=by,
        reason=reason,
    )
    wanted = booking.period
    booking.out_on, booking.back_on = spell.start, spell.end
    try:
        with transaction.atomic():
            days.hold(booking=booking, machines=entry.machines, today=at.astimezone(scheme.zone).date())
            _fit_times(booking, entry.machines)
            offer.save()
            recording.save(booking, at=at)
    except MachineTaken:
        booking.out_on, booking.back_on = wanted.start, wanted.end
        return None
    text = _("Offered %(machines)s to %(village)s, %(days)s.")
    if by is not None:
        text = _("%(who)s offered %(machines)s to %(village)s out of turn, %(days)s: %(reason)s")
    note("booking_offered", text, booking=booking, machines=entry.machines, by=by, at=at, offer=offer)
    offer_notices.offered(offer=offer, booking=booking, at=at)
    return offer


def _fit_times(booking: Booking, machines: Sequence[Machine]) -> None:
    """Let them collect once the village before is back, and be back before the next one collects."""
    for _end_of_the_spell in range(2):
        meets = {"out_time": booking.out_time, "back_time": booking.back_time}
        try:
            times.check_in_order(machines=machines, period=booking.period, **meets, besides=booking)
        except times.TimesCross as crossing:
            if crossing.field == "out_time":
                booking.out_time = crossing.other.back_time
            else:
                booking.back_time = crossing.other.out_time


def end(
    offer: Offer, standing: Standing, *, booking: Booking, at: datetime, rests: bool, reason: str = ""
) -> list[Machine]:
    """Give the days of an offer back; whoever had it waits on for what they asked for. The machines concerned."""
    offer.standing, offer.ended_at = standing, at
    offer.reason = reason or offer.reason
    offer.save()
    days.set_free(booking)
    place = WaitingPlace.objects.get(pk=booking.pk)
    place.booking, place.rests = booking, rests
    place.save()
    wanted = place.wanted
    booking.out_on, booking.back_on = wanted.start, wanted.end
    recording.save(booking, at=at)
    return list(booking.machines.select_related("kit").order_by("pk"))


def withdraw(offer: Offer, *, booking: Booking, by: Member | None, at: datetime, why: Said) -> None:
    """Take an offer back, and say why. Whoever had it keeps the place."""
    machines = end(offer, Standing.WITHDRAWN, booking=booking, at=at, rests=False, reason=why()[:300])
    text = _("The offer to %(village)s was withdrawn, %(days)s: %(reason)s")
    note("booking_offer_withdrawn", text, booking=booking, machines=machines, by=by, at=at, offer=offer)
    offer_notices.withdrawn(offer=offer, booking=booking, why=why, by=by, at=at)


def withdraw_from(wanted: Collection[MachineDay], *, by: Member | None, at: datetime, why: Said) -> None:
    """Take back every open offer that holds one of these machines on one of these days: an offer is no promise."""
    if not wanted:
        return
    machines, every_day = {machine for machine, _day in wanted}, [day for _machine, day in wanted]
    rows = BookedDay.objects.filter(
        machine__in=machines, day__range=(min(every_day), max(every_day)), booking__stage=Stage.WAITING
    )
    in_the_way = {
        key for machine, day, key in rows.values_list("machine", "day", "booking") if (machine, day) in wanted
    }
    for offer in Offer.objects.open().filter(booking__in=in_the_way).order_by("pk"):
        withdraw(offer, booking=_booking_of(offer), by=by, at=at, why=why)


def _booking_of(offer: Offer) -> Booking:
    return Booking.objects.select_related("village", "borrower").get(pk=offer.booking_id, stage=Stage.WAITING)


def note(
    word: str,
    text: str,
    *,
    booking: Booking,
    machines: Sequence[Machine],
    by: Member | None,
    at: datetime,
    offer: Offer,
) -> None:
    """Write a line about an offer, with the days that were offered."""
    words = {
        "who": by.name if by else "",
        "village": booking.village.name,
        "machines": machines_in_words(machines),
        "days": days_in_words(offer.period),
        "reason": offer.reason,
    }
    kits = {machine.kit_id: machine.kit for machine in machines}
    about = [booking, booking.village, *machines, *kits.values()]
    logbook.write(deed=word, text=(text % words).strip(), about=about, by=by, at=at)
