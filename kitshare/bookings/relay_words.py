"""How a relay is written in messages, pages and the logbook, and why one cannot be."""

from collections.abc import Iterable

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.refusals import BookingRefused, Holding
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.words import day_at, machines_in_words
from kitshare.kits.models import Machine
from kitshare.outbox.speaking import Said


def in_short(relay: Relay) -> str:
    """Who hands to whom, such as "Sorrelhythe hands on to Fennerlow on Sat 11 Sep at 10:00"."""
    return shortly(relay)()


def shortly(relay: Relay) -> Said:
    """The same of the relay as it stands now, to be said later and in any language: undone, its days are others."""
    names, on, at = _names(relay), relay.second.out_on, relay.second.out_time
    return lambda: _("%(first)s hands on to %(second)s on %(when)s") % (names | {"when": day_at(on, at)})


def in_full(relay: Relay, machines: Iterable[Machine]) -> list[str]:
    """All that both villages must know, a sentence each."""
    words = _names(relay) | {
        "machines": machines_in_words(machines),
        "when": day_at(relay.second.out_on, relay.second.out_time),
        "place": relay.meet_at,
        "who": relay.carried_by,
    }
    return [
        _("Relay: %(first)s hands %(machines)s straight to %(second)s.") % words,
        _("They meet on %(when)s. Where: %(place)s. Who carries it: %(who)s.") % words,
        _("%(first)s cleans it down before. Both sign the relay check together, part by part.") % words,
        _("The guard is on and the plug is out before anybody lifts. Two people lift. Nothing is lifted while hot.")
        % words,
    ]


def _names(relay: Relay) -> dict[str, str]:
    return {"first": relay.first.village.name, "second": relay.second.village.name}


class NoRelay(BookingRefused):
    """Two bookings cannot be joined by a relay, or not so. `field` names what to correct."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


class CareInTheWay(BookingRefused):
    """Undoing a relay would bring the care days of the first village back, and somebody has them."""

    def __init__(self, *, first: Booking, held: Iterable[Holding]) -> None:
        words = {"village": first.village.name, "held": " ".join(map(str, held))}
        sentence = _(
            "Without the relay the machines need their days for cleaning and drying after %(village)s again,"
            " and these are taken: %(held)s Move that booking first."
        )
        super().__init__(sentence % words)
        self.first = first


class MeetsInRelay(BookingRefused):
    """A booking's time belongs to a relay: two villages meet by it."""

    def __init__(self, *, relay: Relay, field: str) -> None:
        sentence = _("%(relay)s. A coordinator changes the time, for both villages.")
        super().__init__(sentence % {"relay": in_short(relay)})
        self.relay = relay
        self.field = field
