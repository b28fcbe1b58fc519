"""The relay check: one sheet, two names. It takes the kit back from one village and hands it to the next."""

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.translation import gettext as _

from kitshare.bookings import actions as bookings
from kitshare.bookings import relays
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.words import machines_in_words
from kitshare.checks.coming import Came, weigh, weigh_stop
from kitshare.checks.gates import HandoverRefused, check_relay_is_due, what_stops_a_relay
from kitshare.checks.lines import ListedPart, PartSeen, Stop, return_list
from kitshare.checks.models import CheckKind, HandoverCheck, Outcome
from kitshare.checks.recording import Sheet, Signature
from kitshare.checks.telling import page_of, tell_coordinators
from kitshare.engine import deed
from kitshare.outbox.speaking import in_each_language
from kitshare.people.models import Member


class RelayUndone(HandoverRefused):
    """Somebody undid the relay, or the kit went back to the depot."""

    def __init__(self) -> None:
        super().__init__(
            _("This relay was undone meanwhile: the kit goes by the depot. Telephone the coordinator before you load.")
        )


def relay_list(relay: Relay) -> list[ListedPart]:
    """Every part that went out with the first village, with what was seen then."""
    return return_list(relay.first)


@deed
def complete_relay_check(
    *,
    relay: Relay,
    seen: Sequence[PartSeen],
    signature: Signature,
    by: Member,
    at: datetime,
    today: date,
    came: Came | None = None,
) -> HandoverCheck:
    """Hand the kit on: every part seen, nothing vital wrong. The first booking is back and the second out, at once.

    What is missing, damaged or fewer becomes a fault, and a clean-down that was not done is owed by the first village.
    The same sheet sent again gets the check that it made at first. Raises PickupStopped for a vital or a guard part,
    another HandoverRefused or a BookingRefused for everything else that is in the way.
    """
    sheet = _sheet(relay, Outcome.HANDED_OVER, seen, signature, by, at, came)
    if recorded := sheet.recorded_before():
        return recorded
    relay = _current(relay)
    check_relay_is_due(relay=relay, by=by, today=today)
    stopping = what_stops_a_relay(relay=relay, today=today)
    weighed = weigh(relay_list(relay), seen, came=came, refusals=stopping)
    check = sheet.record(weighed)
    words = {"name": check.signed_name, "taken": check.taken_name, "occasion": sheet.occasion()}
    text = _("%(name)s handed over and %(taken)s took on: %(occasion)s.") % words
    if check.owes_clean_down:
        text += " " + _("Not cleaned down: %(village)s owes it.") % {"village": relay.first.village}
        _tell_of_clean_down(check, relay)
    sheet.write(check, deed="relay_checked", text=text, pairs=weighed.pairs)
    relays.complete(relay=relay, at=at)
    bookings.mark_back(booking=relay.first, by=by, at=sheet.now, today=today)
    bookings.mark_out(booking=relay.second, by=by, at=sheet.now, today=today, in_spite=check.went_in_spite)
    return check


@deed
def stop_relay(
    *,
    relay: Relay,
    seen: Sequence[PartSeen],
    signature: Signature,
    by: Member,
    at: datetime,
    today: date,
    came: Came | None = None,
) -> HandoverCheck:
    """Leave the kit with the first village because a vital or a guard part is wrong: report it, tell the coordinators.

    Parts that nobody looked at may be left out. Raises NothingStops where no such part is wrong, and HandoverRefused.
    """
    sheet = _sheet(relay, Outcome.STOPPED, seen, signature, by, at, came)
    if recorded := sheet.recorded_before():
        return recorded
    relay = _current(relay)
    check_relay_is_due(relay=relay, by=by, today=today)
    refusals = what_stops_a_relay(relay=relay, today=today)
    weighed, stopping = weigh_stop(relay_list(relay), seen, came=came, refusals=refusals)
    check = sheet.record(weighed)
    reasons = " ".join(stop.message for stop in stopping)
    words = {"name": check.signed_name, "taken": check.taken_name, "occasion": sheet.occasion(), "reasons": reasons}
    text = _("%(name)s and %(taken)s stopped the %(occasion)s. %(reasons)s") % words
    sheet.write(check, deed="relay_stopped", text=text, pairs=weighed.pairs)
    _tell_of_stop(check, relay, stopping)
    return check


def _sheet(
    relay: Relay,
    outcome: Outcome,
    seen: Sequence[PartSeen],
    signature: Signature,
    by: Member,
    at: datetime,
    came: Came | None,
) -> Sheet:
    return Sheet(
        booking=relay.second,
        from_booking=relay.first,
        kind=CheckKind.RELAY,
        outcome=outcome,
        signature=signature,
        seen=seen,
        by=by,
        at=at,
        came=came,
    )


def _current(relay: Relay) -> Relay:
    """The relay as it stands now that the machines are locked."""
    current: Relay | None = Relay.objects.with_bookings().filter(pk=relay.pk).first()
    if current is None:
        raise RelayUndone
    return current


@in_each_language
def _tell_of_stop(check: HandoverCheck, relay: Relay, stopping: Sequence[Stop]) -> None:
    machines = machines_in_words({stop.part.machine_id: stop.part.machine for stop in stopping}.values())
    words = {"first": relay.first.village.name, "second": relay.second.village.name, "machines": machines}
    lines = [
        _("The relay from %(first)s to %(second)s was stopped: the kit stays with %(first)s.") % words,
        *(stop.message for stop in stopping),
        _("Set aside until it is mended and released: %(machines)s.") % words,
        _("Telephone both villages now: one has fruit to press, the other a kit to look after."),
    ]
    _tell_coordinators("relay-stopped", _("Relay stopped: %(second)s, %(machines)s") % words, lines, check, relay)


@in_each_language
def _tell_of_clean_down(check: HandoverCheck, relay: Relay) -> None:
    words = {"first": relay.first.village.name, "second": relay.second.village.name}
    lines = [
        _("%(first)s handed the kit on to %(second)s before it was cleaned down, and owes that.") % words,
        _("%(second)s washes everything that touches food before pressing. Agree with %(first)s how it is made good.")
        % words,
    ]
    _tell_coordinators("clean-down-owed", _("Clean-down owed: %(first)s") % words, lines, check, relay)


def _tell_coordinators(event: str, subject: str, lines: list[str], check: HandoverCheck, relay: Relay) -> None:
    page = _("The booking's page: %(page)s") % {"page": page_of(relay.second)}
    about = f"{event}:{check.pk}"
    tell_coordinators(about, subject, [*lines, page], booking=relay.second, at=check.known_at)
