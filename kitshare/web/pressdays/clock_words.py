"""What the clock of a press day says, in sentences."""

from collections.abc import Sequence
from string import ascii_uppercase

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.kits.models import Machine, MachineKind
from kitshare.pressdays import words
from kitshare.pressdays.day_clock import BathDay
from kitshare.rules.pressday import DayPlan, Station

DAY_MINUTES = 1440


def COOLING() -> str:  # noqa: N802 - a name like those of the stations
    """The name of what bottles do after the heat."""
    return _("cooling")


def short_name(station: Station | None) -> str:
    """A station in a word short enough for a narrow column; none is the cooling."""
    names = {
        Station.WASH: _("wash"),
        Station.MILL: _("mill"),
        Station.PRESS: _("press"),
        Station.FILL: _("fill"),
        Station.HEAT: _("heat"),
        Station.CLEAN: _("clean"),
        None: _("cool"),
    }
    return names[station]


def day_and_time(minute: float, *, short: bool = False) -> str:
    """A minute of the clock as "14:05", "01:20 next day" or "01:20, 3 days later"; short: "01:20 +1"."""
    days, rest = divmod(round(minute), DAY_MINUTES)
    at = f"{rest // 60:02}:{rest % 60:02}"
    if not days:
        return at
    if short:
        return f"{at} {days:+d}"
    if days < 0:
        return ngettext("%(at)s the day before", "%(at)s, %(days)s days before", -days) % {"at": at, "days": -days}
    return ngettext("%(at)s next day", "%(at)s, %(days)s days later", days) % {"at": at, "days": days}


def how_long(minutes: float) -> str:
    """Minutes as "45 min" or "1 h 35 min"."""
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return _("%(minutes)s min") % {"minutes": rest}
    if not rest:
        return _("%(hours)s h") % {"hours": hours}
    return _("%(hours)s h %(minutes)s min") % {"hours": hours, "minutes": rest}


def number(value: float, places: int = 0) -> str:
    """A number without a tail of zeros."""
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def letter(place: int) -> str:
    """The letter of a kind by its place among those that are heated, from 0: A to Z, then A1 to Z1, and so on."""
    round_of, place = divmod(place, len(ascii_uppercase))
    return f"{ascii_uppercase[place]}{round_of or ''}"


def bottleneck(plan: DayPlan) -> str:
    """Which station sets the pace, and what would ease it."""
    station = plan.bottleneck
    said = _("The bottleneck is %(station)s: it is busy for %(long)s.") % {
        "station": words.station(station),
        "long": how_long(plan.busy[station]),
    }
    if station is Station.HEAT:
        return f"{said} {_('A larger rack or one more pasteuriser would shorten the day; more hands would not.')}"
    pace = plan.given.paces[station]
    hands = plan.hands.get(station, 0.0)
    by_hand = pace.machines * pace.hand_minutes(1) / max(min(hands, pace.most_hands), 0.01)
    if by_hand > pace.machine_minutes(1) and hands < pace.most_hands:
        return f"{said} {_('More hands there would shorten the day.')}"
    if pace.machine_kg_per_hour:
        return f"{said} {_('Its machine sets the pace: more hands would not shorten the day.')}"
    return f"{said} {_('No more hands find room there.')}"


def crew(plan: DayPlan) -> list[str]:
    """Who stands where: one sentence for each station, or for each group that one helper minds."""
    said: list[str] = []
    together: list[str] = []
    held = 0.0
    for station in (*plan.given.stations, Station.HEAT):
        hands = plan.hands.get(station, 0.0)
        if not hands:
            continue
        if hands >= 1 and not together:
            sentence = ngettext("%(station)s: %(hands)s helper", "%(station)s: %(hands)s helpers", round(hands))
            said.append(sentence % {"station": capfirst(words.station(station)), "hands": round(hands)})
            continue
        together.append(words.station(station))
        held += hands
        if held >= 1 - 1e-6:
            said.append(_("%(stations)s: one helper") % {"stations": capfirst(listed(together))})
            together, held = [], 0.0
    placed = round(sum(hands for station, hands in plan.hands.items() if station is not Station.CLEAN))
    if left := plan.given.helpers - placed:
        sentence = ngettext(
            "%(left)s without a fixed place: sorts fruit, carries, relieves the others",
            "%(left)s without a fixed place: they sort fruit, carry, relieve the others",
            left,
        )
        said.append(sentence % {"left": left})
    said.append(_("Cleaning: everybody"))
    return said


def listed(names: Sequence[str]) -> str:
    """Names in a row: "A, B and C"."""
    if len(names) < 2:
        return "".join(names)
    return _("%(first)s and %(last)s") % {"first": ", ".join(names[:-1]), "last": names[-1]}


def missing(kinds: Sequence[MachineKind]) -> list[str]:
    """What the booking has not, and what the clock makes of that."""
    sentences = {
        MachineKind.MILL: _(
            "No mill is booked: this clock leaves milling out. Fruit milled elsewhere takes its own time."
        ),
        MachineKind.PRESS: _("No press is booked: this clock leaves pressing out."),
        MachineKind.PASTEURISER: _(
            "No pasteuriser is booked, though some of the juice is to be heated: this clock leaves heating out."
        ),
    }
    return [sentences[kind] for kind in kinds if kind in sentences]


def as_usual(machines: Sequence[tuple[Machine, Sequence[str]]]) -> list[str]:
    """Whose own figures are not known."""
    found = []
    for machine, names in machines:
        titles = [str(getattr(machine._meta.get_field(name), "verbose_name", name)) for name in names]
        words_of = {"machine": machine, "figures": listed(titles)}
        found.append(_("%(machine)s: the usual figure is taken for %(figures)s.") % words_of)
    return found


def bath_title(one: BathDay) -> str:
    """Which pasteuriser it is."""
    return one.machine.name if one.machine else _("One more pasteuriser")
