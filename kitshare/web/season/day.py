"""One day of the season: what goes out, what comes back, and where every machine is."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, DayKind, Season
from kitshare.kits.models import Kit, Machine
from kitshare.people.models import Member
from kitshare.rules.periods import ONE_DAY, Period
from kitshare.web.season.filters import Filters
from kitshare.web.season.outings import (
    Closing,
    Outing,
    booked_days,
    closings_among,
    machines_with_state,
    outings_among,
    villages_among,
)
from kitshare.web.templatetags.kitshare import day as day_words

# What has a machine that day: a kind of day, or "free" or "late"; the booking or closed spell; the village.
Where = tuple[str, int, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Machines of one kit that are in the same place that day. `word` says it, `text` says more."""

    machines: tuple[Machine, ...]
    word: str
    tone: str
    text: str
    outing: Outing | None = None
    book: str = ""

    @property
    def set_aside(self) -> list[str]:
        """Those of them that a fault keeps at home, whatever the calendar says."""
        return [machine.name for machine in self.machines if getattr(machine, "is_set_aside", False)]


@dataclass(frozen=True, slots=True, kw_only=True)
class KitDay:
    kit: Kit
    places: list[Place]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """What the page of one day shows."""

    going_out: list[Outing]
    coming_back: list[Outing]
    kits: list[KitDay]
    closings: list[Closing]
    filtered_by: list[str]


def day_of(*, day: date, member: Member, today: date, filters: Filters, season: Season | None) -> Day:
    """One day in two queries; today in three, since what is late stands in no row of today."""
    machines = machines_with_state(today)
    by_key = {machine.pk: machine for machine in machines}
    days = booked_days(Period(start=day - ONE_DAY, end=day + ONE_DAY), member)
    outings = outings_among(days, by_key, filters=filters, today=today)
    closings = closings_among([booked for booked in days if booked["day"] == day], by_key)
    rows = {booked["machine_id"]: booked for booked in days if booked["day"] == day}
    late = _late(today) if day == today else {}
    may_book = member.may_ask and day >= today and season is not None and season.period.contains(day)

    def place(machine: Machine) -> Where:
        booked = rows.get(machine.pk)
        if machine.pk in late and (booked is None or booked["kind"] == DayKind.CARE):
            return "late", 0, late[machine.pk]
        if booked is None:
            return "free", 0, ""
        return booked["kind"], booked["booking_id"] or booked["spell_id"], booked["booking__village__name"] or ""

    def places(of_kit: Iterable[Machine]) -> list[Place]:
        together: defaultdict[Where, list[Machine]] = defaultdict(list)
        for machine in of_kit:
            together[place(machine)].append(machine)
        found = (
            _place(tuple(some), where, day=day, outings=outings, closings=closings, may_book=may_book)
            for where, some in together.items()
        )
        return [one for one in found if _fits(one, filters)]

    of_kits = groupby(filters.among(machines), key=lambda machine: machine.kit)
    kits = [KitDay(kit=kit, places=places(of_kit)) for kit, of_kit in of_kits]
    shown = [outing for outing in outings.values() if outing.fits and filters.among(outing.machines)]
    return Day(
        going_out=[outing for outing in shown if outing.out_on == day],
        coming_back=[outing for outing in shown if outing.back_on == day],
        kits=[kit for kit in kits if kit.places],
        closings=[closing for closing in closings.values() if filters.among(closing.machines)],
        filtered_by=filters.in_words(machines=machines, villages=villages_among(days)) if filters else [],
    )


def _fits(place: Place, filters: Filters) -> bool:
    """A village or a stage asks for its bookings alone; a machine for wherever it is."""
    if not (filters.village or filters.stage):
        return True
    return place.outing is not None and place.outing.fits


def _late(today: date) -> dict[int, str]:
    """The machines that should be back and are not, each with the village that has it."""
    found = Booking.objects.overdue(today).values_list("machines", "village__name")
    return {machine: village for machine, village in found.order_by("pk") if machine}


def _place(
    machines: tuple[Machine, ...],
    where: Where,
    *,
    day: date,
    outings: dict[int, Outing],
    closings: dict[int, Closing],
    may_book: bool,
) -> Place:
    kind, key, village = where
    if kind == "free":
        return _free(machines, day=day, may_book=may_book)
    if kind == "late":
        text = _("Still with %(village)s, and due back.") % {"village": village}
        return Place(machines=machines, word=_("late"), tone="stop", text=text)
    if kind == DayKind.CLOSED:
        closing = closings[key]
        return Place(machines=machines, word=_("closed"), tone="quiet", text=f"{closing.kind_word}: {closing.reason}")
    if kind == DayKind.CARE:
        text = _("Cleaning and drying after %(village)s.") % {"village": village}
        return Place(machines=machines, word=_("care"), tone="quiet", text=text)
    outing = outings[key]
    if not outing.fits:
        return Place(machines=machines, word=outing.bar_word, tone="quiet", text="", outing=outing)
    tone = {"asked": "plum", "agreed": "done", "out": "care", "late": "stop", "risk": "stop"}.get(outing.bar, "quiet")
    text = _("Back by the morning of %(back)s.") % {"back": day_words(outing.back_on)}
    return Place(machines=machines, word=outing.bar_word, tone=tone, text=text, outing=outing)


def _free(machines: tuple[Machine, ...], *, day: date, may_book: bool) -> Place:
    book = ""
    if may_book:
        asked = [("machines", machine.pk) for machine in machines if not getattr(machine, "is_set_aside", False)]
        spell = [("spell", "typed"), ("out_on", day.isoformat()), ("back_on", (day + ONE_DAY).isoformat())]
        book = f"{reverse('bookings:new')}?{urlencode([*asked, *spell])}"
    return Place(machines=machines, word=_("free"), tone="done", text="", book=book)
