"""What the pages about kits show, worked out in a bounded number of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings import fit
from kitshare.bookings.models import Booking, Stage
from kitshare.kits.models import Kit, Machine, MachineKind, Part
from kitshare.rules.checklists import PartKind, Severity
from kitshare.upkeep.fitness import Reason
from kitshare.upkeep.models import Fault
from kitshare.upkeep.shelf_models import ShelfPlace

KIND_TONES: Final = {PartKind.VITAL.value: "plum", PartKind.GUARD.value: "care"}
SEVERITY_TONES: Final = {Severity.STOPS_USE.value: "stop", Severity.USE_WITH_CARE.value: "care"}


@dataclass(frozen=True, slots=True)
class Word:
    """A state in a word, with the tone that helps to see it."""

    text: str
    tone: str


@dataclass(frozen=True, slots=True)
class MachineRow:
    """A machine and how it stands."""

    machine: Machine
    kind: str  # empty where the name says it already
    words: list[Word]


@dataclass(frozen=True, slots=True)
class KitCard:
    """A kit with its machines in use."""

    kit: Kit
    machines: list[MachineRow]


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part, its kind as a word, what is wrong with it now, and how many spares lie at its depot."""

    part: Part
    kind: Word
    faults: list[Fault]
    spares: int


@dataclass(frozen=True, slots=True)
class PartGroup:
    """Parts that travel in one place."""

    where: str
    rows: list[PartRow]


def standings(machines: Iterable[Machine], today: date) -> dict[int, list[Word]]:
    """How each machine stands, in words: set aside, with whom it is, or at the depot. Seven queries at most."""
    machines = list(machines)
    out = Booking.machines.through.objects.filter(machine__in=machines, booking__stage=Stage.OUT)
    with_whom = dict(out.order_by("booking_id").values_list("machine_id", "booking__village__name"))
    of_machine: dict[int, list[Reason]] = {}
    for reason in fit.reasons(machines, on=today, today=today):
        for key in reason.machine_keys:
            of_machine.setdefault(key, []).append(reason)
    return {
        machine.pk: _words(machine, with_whom.get(machine.pk), of_machine.get(machine.pk, [])) for machine in machines
    }


def _words(machine: Machine, village: str | None, reasons: list[Reason]) -> list[Word]:
    words = []
    severities = {reason.fault.severity for reason in reasons if reason.fault is not None}
    is_untested = any(reason.stops for reason in reasons if reason.plan is not None)
    if machine.retired_on:
        words.append(Word(_("retired"), "quiet"))
    if Severity.STOPS_USE in severities:
        words.append(Word(_("set aside"), "stop"))
    elif Severity.USE_WITH_CARE in severities:
        words.append(Word(_("use with care"), "care"))
    if is_untested:
        words.append(Word(_("safety test overdue"), "stop"))
    if any(reason.plan is not None and not reason.stops for reason in reasons):
        words.append(Word(_("service due"), "care"))
    if any(reason.tasks_left for reason in reasons):
        words.append(Word(_("season's start not finished"), "care"))
    if village is not None:
        words.append(Word(_("out with %(village)s") % {"village": village}, "plum"))
    elif not machine.retired_on and Severity.STOPS_USE not in severities and not is_untested:
        words.append(Word(_("at the depot"), "done"))
    return words


def _row(machine: Machine, words: list[Word]) -> MachineRow:
    kind = machine.get_kind_display()
    return MachineRow(machine, "" if kind.casefold() in machine.name.casefold() else kind, words)


def machine_rows(machines: Iterable[Machine], today: date) -> list[MachineRow]:
    machines = list(machines)
    words = standings(machines, today)
    return [_row(machine, words[machine.pk]) for machine in machines]


def kit_cards(kits: Iterable[Kit], today: date) -> list[KitCard]:
    """Kits as fetched by `with_machines()`, each with how its machines stand."""
    machines: dict[Kit, list[Machine]] = {kit: kit.machines_in_use for kit in kits}  # type: ignore[attr-defined]
    words = standings((machine for of_one in machines.values() for machine in of_one), today)
    return [KitCard(kit, [_row(machine, words[machine.pk]) for machine in of_one]) for kit, of_one in machines.items()]


def figure_words(value: object) -> str:
    """A figure of a machine as people write it: "40", "0.5"; empty where there is none."""
    return f"{value.normalize():f}" if isinstance(value, Decimal) else "" if value is None else str(value)


def figures_of(machine: Machine) -> list[tuple[str, str]]:
    """The figures that a machine of this kind has, each with its name; empty words where none is given."""
    field = machine._meta.get_field
    return [
        (str(getattr(field(name), "verbose_name", name)), figure_words(getattr(machine, name)))
        for name in machine.figures
    ]


def kind_word(part: Part) -> Word:
    return Word(part.get_kind_display(), KIND_TONES.get(part.kind, "quiet"))


def part_groups(parts: Sequence[Part], faults: Iterable[Fault]) -> list[PartGroup]:
    """Parts in packing order, those that travel in one place together, in the order of each place's first part."""
    faults, spares = list(faults), ShelfPlace.objects.spares_of(parts)
    groups: dict[str, PartGroup] = {}
    for part in parts:
        group = groups.setdefault(part.packed_in.casefold(), PartGroup(part.packed_in, []))
        of_it = [fault for fault in faults if fault.part_id == part.pk]
        group.rows.append(PartRow(part, kind_word(part), of_it, spares.get(part.pk, 0)))
    return list(groups.values())


def gaps(machine: Machine, parts: Iterable[Part]) -> list[str]:
    """Sentences about kinds of parts that a machine's list should have and has not."""
    kinds = {part.kind for part in parts}
    sentences = []
    if PartKind.VITAL not in kinds:
        sentences.append(_("No vital part is listed, so a check would not notice that the day is lost without it."))
    if PartKind.GUARD not in kinds and machine.kind in {MachineKind.MILL, MachineKind.PASTEURISER}:
        sentences.append(_("No guard part is listed. If the machine has a guard or a cut-off, add it."))
    return sentences
