"""Codes for kits, machines and boxes: made with them, and made up for what was there before."""

import secrets
from collections.abc import Iterator
from datetime import datetime

from django.db import IntegrityError, models, transaction
from django.utils.translation import ngettext

from kitshare.engine import deed
from kitshare.kits.code_models import Code, box_key
from kitshare.kits.models import Kit, Machine, Part
from kitshare.logbook.actions import write
from kitshare.people.models import Member
from kitshare.rules import codes

Thing = tuple[int | None, int | None, str]  # a kit, or a machine and the key of a box


def code_of(thing: Kit | Machine) -> Code | None:
    """The code on a kit or a machine; none where nobody made one yet."""
    of = {"kit": thing} if isinstance(thing, Kit) else {"machine": thing, "box_key": ""}
    return Code.objects.filter(**of).first()


def mark(thing: models.Model) -> None:
    """Give a kit, a machine or the box of a part its code, if it has none. For deeds on these things."""
    if isinstance(thing, Kit):
        _have(kit=thing)
    elif isinstance(thing, Machine):
        _have(machine=thing, box_key="")
    elif isinstance(thing, Part) and box_key(thing.packed_in):
        _have(machine=thing.machine, box_key=box_key(thing.packed_in), box=thing.packed_in.strip())


def mark_boxes(machine: Machine) -> None:
    """Give every box of a machine its code. For the deed that adds a machine with all its parts."""
    for part in machine.parts.filter(retired_on=None):
        mark(part)


def unmarked() -> list[models.Model]:
    """What is in use and has no code yet: kits, machines, and one part for each such box. Four queries."""
    have: set[Thing] = set(Code.objects.values_list("kit", "machine", "box_key"))
    return list(_without_code(have))


def _without_code(have: set[Thing]) -> Iterator[models.Model]:
    for kit in Kit.objects.in_use().order_by("name", "pk"):
        if (kit.pk, None, "") not in have:
            yield kit
    machines = Machine.objects.in_use()
    for machine in machines.select_related("kit").order_by("kit__name", "position", "pk"):
        if (None, machine.pk, "") not in have:
            yield machine
    seen = set(have)
    for part in Part.objects.travelling().filter(machine__in=machines).select_related("machine"):
        key = (None, part.machine_id, box_key(part.packed_in))
        if key[2] and key not in seen:
            seen.add(key)
            yield part


@deed
def make_codes(*, by: Member, at: datetime) -> int:
    """Give a code to everything in use that has none; how many these were."""
    things = unmarked()
    for thing in things:
        mark(thing)
    if things:
        text = ngettext(
            "Made %(count)d code for kits, machines and boxes.",
            "Made %(count)d codes for kits, machines and boxes.",
            len(things),
        )
        write(deed="codes_made", text=text % {"count": len(things)}, about=things, by=by, at=at)
    return len(things)


def _have(*, box: str = "", **of: object) -> Code:
    code: Code | None = Code.objects.filter(**of).first()
    while code is None:
        try:
            with transaction.atomic():
                code = Code.objects.create(text=codes.draw(secrets.choice), box=box, **of)
        except IntegrityError:  # drawn before, or given by somebody else this moment
            code = Code.objects.filter(**of).first()
    return code
