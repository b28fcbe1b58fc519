"""What a code stands for, said to whoever scans it; and to which check it leads a member."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.kits.code_models import Code, box_key
from kitshare.kits.models import Kit, Machine, Part
from kitshare.people.models import Member
from kitshare.web.kits.weight_facts import WeightLine, box_weights, machines_weights
from kitshare.web.lifting import guide_in_words

ONE_DAY = timedelta(days=1)
RELAYS: Final = ("relay_onwards__second", "relay_from__second")


@dataclass(frozen=True, slots=True)
class Caution:
    """What to mind about one thing."""

    of: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The public card of a kit, a machine or a box. It names no village, no depot and no day of a booking."""

    code: Code
    name: str
    what: str
    gone: str  # why it is not lent any more; empty while it is
    page: str  # where members read more
    machines: list[Machine]
    parts: list[Part] = field(default_factory=list)
    weights: list[WeightLine] = field(default_factory=list)

    @property
    def guide(self) -> str:
        return guide_in_words()

    @property
    def cautions(self) -> list[Caution]:
        """Those of its machines, then those of the parts in the box."""
        things: list[Machine | Part] = [*self.machines, *self.parts]
        return [Caution(thing.name, thing.caution) for thing in things if thing.caution]


@dataclass(frozen=True, slots=True)
class Way:
    """One check that may be made now: in words, and where."""

    words: str
    address: str


def card_of(code: Code) -> Card:
    """A code as fetched by `with_things()`; three queries more at most."""
    if code.kit is not None:
        return _of_kit(code, code.kit)
    assert code.machine is not None  # noqa: S101 - by the constraint that a code means one thing
    return _of_box(code, code.machine) if code.box_key else _of_machine(code, code.machine)


def _of_kit(code: Code, kit: Kit) -> Card:
    machines = list(kit.machines.filter(retired_on=None).order_by("position", "pk"))
    return Card(
        code=code,
        name=kit.name,
        what=_("A kit: machines and parts that travel together."),
        gone=_("This kit is retired: it is not lent any more.") if kit.retired_on else "",
        page=reverse("kits:show", args=[kit.pk]),
        machines=machines,
        weights=machines_weights(machines),
    )


def _is_gone(machine: Machine) -> bool:
    return machine.retired_on is not None or machine.kit.retired_on is not None


def _of_machine(code: Code, machine: Machine) -> Card:
    words = {"kind": machine.get_kind_display(), "kit": machine.kit.name}
    return Card(
        code=code,
        name=machine.name,
        what=_("A machine (%(kind)s) of the kit %(kit)s.") % words,
        gone=_("This machine is retired: it is not lent any more.") if _is_gone(machine) else "",
        page=reverse("kits:machine", args=[machine.pk]),
        machines=[machine],
        weights=machines_weights([machine]),
    )


def _of_box(code: Code, machine: Machine) -> Card:
    travelling = Part.objects.travelling().filter(machine=machine).prefetch_related("also_serves")
    parts = [part for part in travelling if box_key(part.packed_in) == code.box_key]
    gone = ""
    if _is_gone(machine):
        gone = _("The machine to which this belongs is retired: it is not lent any more.")
    elif not parts:
        gone = _("By the list nothing is packed here any more. If there is something in it, tell the coordinator.")
    served = {other.pk: other for part in parts for other in part.also_serves.all()}
    return Card(
        code=code,
        name=_("%(machine)s: %(box)s") % {"machine": machine.name, "box": code.box},
        what=_("What travels here with the %(machine)s of the kit %(kit)s.")
        % {"machine": machine.name, "kit": machine.kit.name},
        gone=gone,
        page=reverse("kits:machine", args=[machine.pk]),
        machines=[machine, *served.values()],
        parts=parts,
        weights=box_weights(machine, code.box, parts) if parts else [],
    )


def ways(card: Card, member: Member, today: date) -> list[Way]:
    """The checks of this member's bookings of it that are at their time: at pickup from the eve on, and while out."""
    at_its_time = Q(stage=Stage.OUT) | Q(stage=Stage.AGREED, out_on__lte=today + ONE_DAY, back_on__gt=today)
    found = Booking.objects.visible_to(member).filter(at_its_time, machines__in=card.machines).distinct()
    known = found.select_related("village", *RELAYS).order_by("out_on", "pk")
    return list({way.address: way for booking in known for way in _of_booking(booking, today)}.values())


def _of_booking(booking: Booking, today: date) -> Iterator[Way]:
    village = {"village": booking.village.name}
    onwards: Relay | None = getattr(booking, "relay_onwards", None)
    arriving: Relay | None = getattr(booking, "relay_from", None)
    relay = onwards if booking.stage == Stage.OUT else arriving
    if relay is not None and relay.done_at is None and relay.second.out_on <= today + ONE_DAY:
        yield Way(_("Relay check"), reverse("checks:relay", args=[relay.pk]))
    elif booking.stage == Stage.OUT:
        yield Way(_("Return check, %(village)s") % village, reverse("checks:return", args=[booking.pk]))
    else:
        yield Way(_("Pickup check, %(village)s") % village, reverse("checks:pickup", args=[booking.pk]))
