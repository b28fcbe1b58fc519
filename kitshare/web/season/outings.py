"""What every view of the season is worked out from: the machines, the booked days of some period, their bookings."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, Subquery
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import AHEAD, BookedDay, ClosedKind, DayKind, Stage
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import Period
from kitshare.rules.servicing import is_overdue
from kitshare.upkeep import fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.web.season.filters import Filters
from kitshare.web.templatetags.kitshare import day as day_words

COLUMNS = ["machine_id", "day", "kind", "booking_id", "booking__village_id", "booking__village__name"]
COLUMNS += ["booking__stage", "booking__out_on", "booking__back_on", "spell_id", "spell__kind", "spell__reason"]
COLUMNS += ["booking__relay_from__first__village__name", "booking__relay_onwards__second__village__name"]
COLUMNS += ["spell__first_day", "spell__last_day", "spell__depot__name"]


@dataclass(slots=True, kw_only=True)
class Outing:
    """One booking as the season shows it: to whom, which days, how far it has come."""

    key: int
    village: str
    stage: str
    out_on: date
    back_on: date
    is_open_to_me: bool
    is_late: bool
    fits: bool = True
    is_at_risk: bool = False
    machines: list[Machine] = field(default_factory=list)
    stage_word: str = ""
    address: str = ""
    move: str = ""
    out_key: str = ""
    days_words: str = ""
    taken_from: str = ""
    handed_to: str = ""
    bar: str = ""
    bar_word: str = ""

    def put_into_words(self) -> None:
        """Work out once what many cells of the page say; it costs too much to work out in each."""
        if not self.fits:
            self.village, self.bar, self.bar_word, self.is_open_to_me = "", "other", _("taken"), False
            return
        self.stage_word = str(Stage(self.stage).label)
        if self.stage == Stage.WAITING:
            self.village = _("offered to %(village)s") % {"village": self.village}
            self.stage_word = _("not answered yet")
        self.address = reverse("bookings:show", args=[self.key]) if self.is_open_to_me else ""
        if self.is_open_to_me and self.stage in AHEAD:
            self.move = f"{reverse('season:move', args=[self.key])}?then=season"
            self.out_key = self.out_on.isoformat()
        words = _("Out %(out)s, back by the morning of %(back)s")
        self.days_words = words % {"out": day_words(self.out_on), "back": day_words(self.back_on)}
        self.bar, self.bar_word = self.stage, self.stage_word
        if self.is_late:
            self.bar, self.bar_word = "late", _("late")
        elif self.is_at_risk:
            self.bar, self.bar_word = "risk", _("at risk")


@dataclass(slots=True, kw_only=True)
class Closing:
    """A closed spell as the season shows it."""

    kind: str
    reason: str
    first_day: date
    last_day: date
    depot: str
    machines: list[Machine] = field(default_factory=list)

    @property
    def days_words(self) -> str:
        if self.first_day == self.last_day:
            return day_words(self.first_day)
        return _("%(first)s to %(last)s") % {"first": day_words(self.first_day), "last": day_words(self.last_day)}

    @property
    def what(self) -> str:
        """What is closed: the depot by its name, the machines by theirs, or everything."""
        if self.kind == ClosedKind.SERVICE:
            return ", ".join(machine.name for machine in self.machines)
        return self.depot or _("everything")

    @property
    def kind_word(self) -> str:
        return str(ClosedKind(self.kind).label)


def machines_with_state(today: date) -> list[Machine]:
    """The machines in use in the order of kits, each with `is_set_aside` and when its next test is due. One query."""
    tests = CarePlan.objects.tests().filter(machine=OuterRef("pk")).soonest_first()
    machines = Machine.objects.in_use().select_related("kit")
    machines = machines.annotate(
        is_set_aside=fitness.machine_is_stopped(OuterRef("pk"), on=today),
        test_due_on=Subquery(tests.values("due_on")[:1]),
    )
    return list(machines.order_by("kit__name", "kit_id", "position", "pk"))


def booked_days(period: Period, member: Member) -> list[dict[str, Any]]:
    """The booked days in a period with what the season shows of their bookings and closed spells. One query."""
    days = BookedDay.objects.filter(day__gte=period.start, day__lt=period.end)
    columns = COLUMNS
    if not (member.coordinates or member.maintains):
        own = Village.borrowers.through.objects.filter(member=member, village=OuterRef("booking__village"))
        days = days.annotate(is_mine=Exists(own))
        columns = [*COLUMNS, "is_mine"]
    return list(days.values(*columns).order_by("machine_id", "day"))


def outings_among(
    days: Iterable[dict[str, Any]], machines: dict[int, Machine], *, filters: Filters, today: date
) -> dict[int, Outing]:
    """Each booking among the days, with its machines; at risk when it may not go out as it stands."""
    outings: dict[int, Outing] = {}
    for booked in days:
        if booked["kind"] != DayKind.BOOKED:
            continue
        outing = outings.get(booked["booking_id"])
        if outing is None:
            outing = outings[booked["booking_id"]] = Outing(
                key=booked["booking_id"],
                village=booked["booking__village__name"],
                stage=booked["booking__stage"],
                out_on=booked["booking__out_on"],
                back_on=booked["booking__back_on"],
                is_open_to_me=booked.get("is_mine", True),
                taken_from=booked["booking__relay_from__first__village__name"] or "",
                handed_to=booked["booking__relay_onwards__second__village__name"] or "",
                is_late=booked["booking__stage"] == Stage.OUT and booked["booking__back_on"] < today,
                fits=filters.fit(village=booked["booking__village_id"], stage=booked["booking__stage"]),
            )
        machine = machines.get(booked["machine_id"])
        if machine is not None and machine not in outing.machines:
            outing.machines.append(machine)
            if outing.stage in AHEAD and _is_unfit(machine, on=max(outing.out_on, today)):
                outing.is_at_risk = True
    for outing in outings.values():
        outing.put_into_words()
    return outings


def _is_unfit(machine: Machine, *, on: date) -> bool:
    """Whether a machine with its state is set aside now, or a safety test of it will be overdue on a day."""
    due_on = getattr(machine, "test_due_on", None)
    return getattr(machine, "is_set_aside", False) or (due_on is not None and is_overdue(due_on, on=on))


def closings_among(days: Iterable[dict[str, Any]], machines: dict[int, Machine]) -> dict[int, Closing]:
    """Each closed spell among the days, with the machines of which it holds a day."""
    closings: dict[int, Closing] = {}
    for booked in days:
        key = booked["spell_id"]
        if key is None:
            continue
        if key not in closings:
            closings[key] = Closing(
                kind=booked["spell__kind"],
                reason=booked["spell__reason"],
                first_day=booked["spell__first_day"],
                last_day=booked["spell__last_day"],
                depot=booked["spell__depot__name"] or "",
            )
        machine = machines.get(booked["machine_id"])
        if machine is not None and machine not in closings[key].machines:
            closings[key].machines.append(machine)
    return closings


def villages_among(days: Iterable[dict[str, Any]]) -> dict[int, str]:
    """The villages that have some of the days, by key."""
    return {booked["booking__village_id"]: booked["booking__village__name"] for booked in days}
