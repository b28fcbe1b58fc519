"""Noting how much machines were used, for the deeds that know; and asking it, for services that fall due by use."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.db.models import Count, Sum

from kitshare.kits.models import Machine, MachineKind
from kitshare.upkeep.use_models import MachineUse, UseSource

MILLING = (MachineKind.MILL, MachineKind.PRESS)
AT_ONCE: Final = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What some machines did on a day of a booking."""

    day: date
    machines: tuple[Machine, ...]
    kg: Decimal
    hours: Decimal = Decimal(0)
    batches: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How much a machine did since a day. A booking of several days is one outing."""

    kg: Decimal = Decimal(0)
    hours: Decimal = Decimal(0)
    batches: int = 0
    outings: int = 0


def note_use(*, booking_key: int, work: Iterable[Work], source: UseSource) -> None:
    """Put what the machines of a booking did in place of what was noted of it before.

    For deeds that write the logbook themselves. An estimate never takes the place of a record.
    """
    noted = MachineUse.objects.filter(booking_key=booking_key)
    if source == UseSource.ESTIMATED and noted.filter(source=UseSource.RECORDED).exists():
        return
    noted.delete()
    MachineUse.objects.bulk_create(row for one in work for row in _rows(booking_key, one, source))


def estimate_past(work: Mapping[int, Work]) -> None:
    """Note as estimated what the machines of past bookings did, of which nothing is noted yet, by their keys."""
    rows = [row for booking_key, one in work.items() for row in _rows(booking_key, one, UseSource.ESTIMATED)]
    MachineUse.objects.bulk_create(rows, batch_size=AT_ONCE)


def forget(booking_keys: Collection[int]) -> None:
    """Forget what was noted of bookings that never were. For deeds that take them back."""
    MachineUse.objects.filter(booking_key__in=booking_keys).delete()


def _rows(booking_key: int, work: Work, source: UseSource) -> Iterator[MachineUse]:
    for machine in work.machines:
        yield MachineUse(
            machine=machine,
            day=work.day,
            booking_key=booking_key,
            kg=work.kg if machine.kind in MILLING else Decimal(0),
            hours=work.hours,
            batches=work.batches if machine.kind == MachineKind.PASTEURISER else 0,
            source=source,
        )


def use_since(machines: Iterable[Machine], *, since: date | None = None) -> dict[int, Use]:
    """How much each machine did after a day (that day not counted), or ever, by its key. One query."""
    uses = MachineUse.objects.filter(machine__in=[machine.pk for machine in machines])
    if since is not None:
        uses = uses.filter(day__gt=since)
    sums = (
        uses.order_by()
        .values("machine")
        .annotate(kg=Sum("kg"), hours=Sum("hours"), batches=Sum("batches"), outings=Count("booking_key", distinct=True))
    )
    return {
        row["machine"]: Use(kg=row["kg"], hours=row["hours"], batches=row["batches"], outings=row["outings"])
        for row in sums
    }
