"""What stands on the card of a press day: one printed page for the yard."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine, MachineKind
from kitshare.people.models import Member, Scheme
from kitshare.pressdays.clock import hours_of
from kitshare.pressdays.day_clock import DayClock, clock_of, machines_of
from kitshare.pressdays.planning import ToBring, ahead_of
from kitshare.pressdays.provisions import provisions_for
from kitshare.rules import supplies
from kitshare.rules.pressday import DayPlan, Station
from kitshare.upkeep.models import Fault
from kitshare.web.bookings.facts import services_due
from kitshare.web.pressdays.clock_facts import DayFacts, day_facts, start_minute
from kitshare.web.pressdays.clock_heat import HeatedKind, container_name, heated_kinds
from kitshare.web.pressdays.clock_words import day_and_time, letter

# What one page holds, in both sizes of paper: tests print it and count the pages.
MOST_KINDS: Final = 6
MOST_FAULTS: Final = 3
FAULT_LETTERS: Final = 60
MOST_PHONES: Final = 4
ONE_COLUMN: Final = 9
MOST_BATCHES: Final = 18
LEAST_ROWS: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """Whom to telephone, and for what."""

    what: str
    name: str
    number: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One thing of the order of work, and when it begins."""

    at: str
    name: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRow:
    """A batch as planned; the rest of its row is written by hand. Without a plan all of it is.

    `letter` is that of its kind, where there are several.
    """

    number: int
    bottles: int = 0
    letter: str = ""
    goes_in: str = ""
    hot: str = ""
    comes_out: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFacts:
    """The card of a booking. Without a plan there is no order of work, and the log is empty."""

    booking: Booking
    clock: DayClock
    day: DayFacts | None
    machines: list[Machine]
    phones: list[Phone]
    faults: list[str]
    deeds: list[Deed]
    containers: list[ToBring]
    more_kinds: int
    sacks: int
    acid_each_ten: Decimal
    acid: supplies.Ascorbic
    logs: list[list[LogRow]]
    more_batches: int
    container: str
    heated: list[HeatedKind]

    @property
    def kinds(self) -> set[str]:
        """The kinds of machine that are there: each has its own cautions."""
        return {machine.kind for machine in self.machines}

    @property
    def has_a_plug(self) -> bool:
        """Whether anything is electric; a machine whose watts nobody has given may be."""
        plugged = {MachineKind.MILL, MachineKind.PASTEURISER}
        return any(one.power_watts or (one.power_watts is None and one.kind in plugged) for one in self.machines)

    @property
    def ends_at(self) -> str:
        return f"{self.clock.hours.ends_at:%H:%M}"


def card_facts(*, booking: Booking, scheme: Scheme) -> CardFacts:
    """The card by the saved plan and hours, else by the usual ones."""
    machines = machines_of(booking)
    ahead = ahead_of(booking, scheme=scheme)
    clock = clock_of(ahead, hours_of(booking)[0], machines)
    provisions = provisions_for(ahead, machines=machines, scheme=scheme)
    rows, more = _log(clock)
    half = -(-len(rows) // 2)
    return CardFacts(
        booking=booking,
        clock=clock,
        day=day_facts(clock, clock.plan) if clock.plan else None,
        machines=machines,
        phones=_phones(booking, scheme),
        faults=_faults(machines, booking.out_on),
        deeds=_deeds(clock, clock.plan) if clock.plan else [],
        containers=list(ahead.to_bring[:MOST_KINDS]),
        more_kinds=max(0, len(ahead.to_bring) - MOST_KINDS),
        sacks=provisions.pomace_most.sacks,
        acid_each_ten=supplies.ASCORBIC_G_PER_LITRE * 10,
        acid=provisions.ascorbic,
        logs=[rows] if len(rows) <= ONE_COLUMN else [rows[:half], rows[half:]],
        more_batches=more,
        container=container_name(clock),
        heated=[] if clock.heats_one_kind else heated_kinds(clock)[:MOST_KINDS],
    )


def _phones(booking: Booking, scheme: Scheme) -> list[Phone]:
    """The coordinator, who signs, and whoever mends: each number once."""
    found = [Phone(what=_("Coordinator"), name=scheme.name, number=scheme.telephone)]
    menders = Member.objects.maintaining().exclude(telephone="")[:2]
    found += [Phone(what=_("Maintenance"), name=member.name, number=member.telephone) for member in menders]
    found.append(Phone(what=_("Signs for the kit"), name=booking.borrower.name, number=booking.borrower.telephone))
    return [phone for phone in found if phone.number][:MOST_PHONES]


def _faults(machines: Sequence[Machine], out_on: date) -> list[str]:
    """What is known to be wrong with these machines, the worst first; then the services that will be due."""
    open_ones = Fault.objects.concerning(machines).select_related("machine", "part").worst_first()
    found = []
    for fault in open_ones[:MOST_FAULTS]:
        what = f"{fault.machine}, {fault.part}" if fault.part else str(fault.machine)
        note = fault.note if len(fault.note) <= FAULT_LETTERS else f"{fault.note[:FAULT_LETTERS]}…"
        found.append(f"{what}: {fault.get_severity_display()}. {note}")
    return [*found, *services_due(machines, out_on, timezone.localdate())][:MOST_FAULTS]


def _deeds(clock: DayClock, plan: DayPlan) -> list[Deed]:
    """The order of work, for the stations that are there."""
    start = start_minute(clock.hours)
    begins: dict[Station, float] = {}
    for bar in plan.bars:
        begins[bar.station] = min(begins.get(bar.station, bar.start), bar.start)

    def at(minutes: float) -> str:
        return day_and_time(start + minutes, short=True)

    how = {
        Station.WASH: (_("Wash and sort"), _("Rotten and mouldy fruit goes out, bruises are cut.")),
        Station.MILL: (_("Mill"), _("Only as much as the press takes next: milled fruit browns.")),
        Station.PRESS: (_("Press"), _("Build the cheese level, turn slowly, let it run.")),
        Station.FILL: (_("Fill"), _("Stir in ascorbic acid first. For heating to the shoulder, caps loose.")),
        Station.HEAT: (_("Heat"), _("As in the log below. Then tighten, lay flat, label with the batch code.")),
        Station.CLEAN: (_("Clean"), _("All that touched juice; cloths washed and hung; spent pomace in sacks.")),
    }
    deeds = [Deed(at=at(0), name=_("Set up"), how=_("Level ground, dry leads. Hands, surfaces and vessels clean."))]
    deeds += [Deed(at=at(begins[s]), name=how[s][0], how=how[s][1]) for s in Station if s in begins]
    return [*deeds, Deed(at=at(plan.finish), name=_("All done"), how=_("Count the parts back into their trays."))]


def _log(clock: DayClock) -> tuple[list[LogRow], int]:
    """Rows of the heat log, and how many batches found no room on the page."""
    start = start_minute(clock.hours)
    batches = clock.plan.heated if clock.plan else ()
    letters = {} if clock.heats_one_kind else {kind.key: letter(place) for place, kind in enumerate(clock.heated)}
    rows = [
        LogRow(
            number=bar.batch,
            bottles=bar.containers,
            letter=letters.get(bar.kind, ""),
            goes_in=day_and_time(start + bar.start, short=True),
            hot=day_and_time(start + bar.end - clock.ahead.heat.hold_minutes, short=True),
            comes_out=day_and_time(start + bar.end, short=True),
        )
        for bar in batches[:MOST_BATCHES]
    ]
    if any(one.machine and one.machine.kind == MachineKind.PASTEURISER for one in clock.baths) or rows:
        rows += [LogRow(number=number) for number in range(len(rows) + 1, LEAST_ROWS + 1)]
    return rows, max(0, len(batches) - MOST_BATCHES)
