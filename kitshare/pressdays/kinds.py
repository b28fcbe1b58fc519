"""Every change to the kinds of container."""

from datetime import date, datetime
from decimal import Decimal
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change, in_words
from kitshare.people.models import Member
from kitshare.pressdays.models import ContainerKind, MaterialChoice
from kitshare.pressdays.refusals import KindNameTaken, OnlyGlassIsReused
from kitshare.pressdays.starter import STARTER_KINDS


class KindFacts(TypedDict, total=False):
    """What may be said of a kind of container, by the names of its fields."""

    name: str
    litres: Decimal
    material: str
    food_grade: bool
    highest_fill_c: Decimal | None
    usual_use: str
    fill_fraction: Decimal | None
    reused_glass: bool
    tare_kg: Decimal
    per_crate: int
    capped: bool
    lent: int
    usual_parts: int
    position: int


@deed
def add_container_kind(*, by: Member, at: datetime, **facts: Unpack[KindFacts]) -> ContainerKind:
    """Offer villages another kind of container to plan with."""
    kind = ContainerKind(**facts)
    _save_kind(kind)
    text = _("Added the kind of container %(name)s.") % {"name": kind.name}
    logbook.write(deed="container_kind_added", text=text, about=[kind], by=by, at=at)
    return kind


@deed
def add_starter_kinds(*, by: Member, at: datetime) -> list[ContainerKind]:
    """Add the usual kinds that are not there yet under their names, to be changed as wished."""
    there = {name.casefold() for name in ContainerKind.objects.values_list("name", flat=True)}
    return [
        add_container_kind(**starter._asdict(), position=position * 10, by=by, at=at)
        for position, starter in enumerate(STARTER_KINDS, start=1)
        if starter.name.casefold() not in there
    ]


@deed
def change_container_kind(
    *, kind: ContainerKind, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[KindFacts]
) -> ContainerKind:
    """Change a kind of container; what is not told stays. Plans that use it are worked out anew with it."""
    kind = ContainerKind.objects.select_for_update().get(pk=kind.pk)
    changes = change(kind, **facts)
    if changes:
        logbook.check_unchanged(kind, seen=seen, by_deeds=["container_kind_changed"])
        _save_kind(kind)
        text = _("Changed the kind of container %(name)s: %(changes)s.")
        words = text % {"name": kind.name, "changes": in_words(kind, changes)}
        logbook.write(deed="container_kind_changed", text=words, about=[kind], by=by, at=at)
    return kind


@deed
def retire_container_kind(*, kind: ContainerKind, on: date, by: Member, at: datetime) -> ContainerKind:
    """Offer a kind no longer. Plans that have it keep it."""
    kind = ContainerKind.objects.select_for_update().get(pk=kind.pk)
    if kind.retired_on is None:
        kind.retired_on = on
        kind.save(update_fields=["retired_on"])
        text = _("Retired the kind of container %(name)s.") % {"name": kind.name}
        logbook.write(deed="container_kind_retired", text=text, about=[kind], by=by, at=at)
    return kind


@deed
def bring_back_container_kind(*, kind: ContainerKind, by: Member, at: datetime) -> ContainerKind:
    """Offer a retired kind again."""
    kind = ContainerKind.objects.select_for_update().get(pk=kind.pk)
    if kind.retired_on is not None:
        kind.retired_on = None
        kind.save(update_fields=["retired_on"])
        text = _("Brought back the kind of container %(name)s.") % {"name": kind.name}
        logbook.write(deed="container_kind_brought_back", text=text, about=[kind], by=by, at=at)
    return kind


def _save_kind(kind: ContainerKind) -> None:
    if kind.reused_glass and kind.material not in ("", MaterialChoice.GLASS):
        raise OnlyGlassIsReused
    other = ContainerKind.objects.filter(name__iexact=kind.name).exclude(pk=kind.pk).first()
    if other:
        raise KindNameTaken(other)
    try:
        with transaction.atomic():
            kind.save()
    except IntegrityError:
        # Somebody else gave another kind this name between the look and the save.
        other = ContainerKind.objects.filter(name__iexact=kind.name).exclude(pk=kind.pk).first()
        if other is None:
            raise
        raise KindNameTaken(other) from None
