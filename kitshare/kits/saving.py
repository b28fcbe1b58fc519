"""How the facts of a kit, a machine or a part are saved, and why a change may be refused."""

from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import TypedDict

from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext as _

from kitshare.kits import coding
from kitshare.kits.models import Depot, Kit, Machine, Part
from kitshare.logbook import actions as logbook

Thing = Depot | Kit | Machine | Part


class KitsRefused(Exception):
    """A change that cannot be made, with a message fit to show."""


class NameTaken(KitsRefused):
    """Something beside it has that name already."""

    def __init__(self, name: str) -> None:
        self.name = name
        message = _("“%(name)s” is the name of another one here, in use or retired. Give this one a name of its own.")
        super().__init__(message % {"name": name})


class NotInUse(KitsRefused):
    """The kit or machine to which something should be added is retired."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(_("%(name)s is retired. Bring it back into use first.") % {"name": name})


class UnknownStarter(KitsRefused):
    """The starter list has no such machine."""

    def __init__(self, choice: str) -> None:
        self.choice = choice
        super().__init__(_("The starter list has no “%(choice)s”.") % {"choice": choice})


class DepotFacts(TypedDict, total=False):
    name: str
    directions: str


class KitFacts(TypedDict, total=False):
    name: str
    depot: Depot
    shape: str
    care_days: int
    note: str


class MachineFacts(TypedDict, total=False):
    name: str
    kind: str
    caution: str
    kg_per_hour: int | None
    power_watts: int | None
    cheese_kg: Decimal | None
    cloths_per_cheese: int | None
    bath_litres: Decimal | None
    bath_bottles: int | None
    loss_w_per_k: Decimal | None
    weight_kg: Decimal | None


class PartFacts(TypedDict, total=False):
    name: str
    number: str
    kind: str
    expected_count: int
    packed_in: str
    weight_kg: Decimal | None
    caution: str
    look_for: str
    also_serves: Collection[Machine]


def _namesakes(
    thing: Thing,
) -> "models.QuerySet[Depot] | models.QuerySet[Kit] | models.QuerySet[Machine] | models.QuerySet[Part]":
    """What else must not have the same name, as the constraints of the models say it."""
    if isinstance(thing, Part):
        return Part.objects.filter(machine=thing.machine, name=thing.name, retired_on=None).exclude(pk=thing.pk)
    if isinstance(thing, Machine):
        return Machine.objects.filter(kit=thing.kit, name=thing.name).exclude(pk=thing.pk)
    return type(thing)._default_manager.filter(name=thing.name).exclude(pk=thing.pk)


def save(thing: Thing, fields: Iterable[str] | None = None) -> None:
    """Save, with its code, and say so in words if the name is taken, even where somebody else took it this moment."""
    try:
        with transaction.atomic():
            thing.save(update_fields=fields)
            coding.mark(thing)
    except IntegrityError as clash:
        if _namesakes(thing).exists():
            raise NameTaken(thing.name) from clash
        raise


def _shown(thing: Thing, field: str) -> str:
    """A field's value in the words that people read."""
    in_words = getattr(thing, f"get_{field}_display", None)
    value = in_words() if in_words else getattr(thing, field)
    return _("nothing") if value in ("", None) else f"“{value}”"


def change(thing: Thing, facts: Mapping[str, object], *, seen: int | None, deed: str) -> str:
    """Save the facts that differ, and only those: a spare fitted meanwhile stays fitted.

    Returns what changed as a phrase; empty when nothing did. Raises ChangedMeanwhile where somebody did the same deed
    after the line of the logbook that was `seen`.
    """
    if not facts:
        return ""
    type(thing)._default_manager.select_for_update(no_key=True).get(pk=thing.pk)
    thing.refresh_from_db(fields=list(facts))
    changes = {}
    for field, value in facts.items():
        if getattr(thing, field) == value:
            continue
        before = _shown(thing, field)
        setattr(thing, field, value)
        words = {
            "field": getattr(thing._meta.get_field(field), "verbose_name", field),
            "before": before,
            "after": _shown(thing, field),
        }
        changes[field] = _("%(field)s from %(before)s to %(after)s") % words
    if changes:
        logbook.check_unchanged(thing, seen=seen, by_deeds=[deed])
        save(thing, fields=changes)
    return "; ".join(changes.values())


def swap_with_neighbour(
    rows: "models.QuerySet[Machine] | models.QuerySet[Part]", thing: Machine | Part, earlier: bool
) -> bool:
    """Swap with the neighbour and number the row anew; False at either end, where nothing moves."""
    order = list(rows.select_for_update().order_by("position", "pk"))
    here = next((place for place, row in enumerate(order) if row.pk == thing.pk), None)
    if here is None:
        return False
    there = here - 1 if earlier else here + 1
    if not 0 <= there < len(order):
        return False
    order[here], order[there] = order[there], order[here]
    for place, row in enumerate(order, start=1):
        rows.filter(pk=row.pk).exclude(position=place).update(position=place)
    return True
