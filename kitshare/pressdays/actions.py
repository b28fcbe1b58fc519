"""Every change to the plan of a day and to the kinds of container."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import TypedDict, Unpack

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change, in_words
from kitshare.people.models import Member
from kitshare.pressdays.models import LEAST_YIELD, MOST_YIELD, ContainerKind, PlanShare, PressPlan
from kitshare.pressdays.refusals import (
    KindNameTaken,
    KindRetired,
    NotAhead,
    NotTheirsToPlan,
    PlanChangedMeanwhile,
    PlanRefused,
    SharesNotAHundred,
    YieldNotBelieved,
)
from kitshare.pressdays.starter import STARTER_KINDS
from kitshare.rules.sizing_terms import YIELD_EXPECTED


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


def check_can_plan(*, booking: Booking, by: Member) -> None:
    """Raise PlanRefused unless this member may change the plan of this booking now."""
    if not (by.coordinates or (by.borrows and booking.village.borrowers.filter(pk=by.pk).exists())):
        raise NotTheirsToPlan(booking)
    if not booking.is_ahead:
        raise NotAhead(booking)


def why_not_plan(*, booking: Booking, by: Member) -> str:
    """Why this member may not change the plan of this booking now; empty when they may."""
    try:
        check_can_plan(booking=booking, by=by)
    except PlanRefused as refused:
        return str(refused)
    return ""


@deed
def save_plan(
    *,
    booking: Booking,
    yield_expected: Decimal,
    shares: Mapping[ContainerKind, int],
    by: Member,
    at: datetime,
    seen_revision: int | None = None,
) -> PressPlan:
    """Keep what a village expects of its day: its yield, and the parts in a hundred for each kind of container.

    `seen_revision` is that of the plan which the person had before them, 0 for none; without it the last save
    counts. Saving what is saved already changes nothing, so that a double tap is one save.
    """
    booking = Booking.objects.select_for_update(of=("self",)).select_related("village").get(pk=booking.pk)
    check_can_plan(booking=booking, by=by)
    shares = {kind: percent for kind, percent in shares.items() if percent}
    plan = PressPlan.objects.filter(booking=booking).select_related("changed_by").first()
    before = _shares_of(plan) if plan else {}
    before_yield = (plan.yield_expected if plan else None) or YIELD_EXPECTED
    _check_plan(yield_expected, shares, before)
    if plan and plan.yield_expected == yield_expected and before == shares:
        return plan
    if plan and seen_revision is not None and seen_revision != plan.revision:
        raise PlanChangedMeanwhile(plan, _differences(before_yield, before, yield_expected, shares))
    if plan is None:
        plan = PressPlan(booking=booking, revision=0)
        words = _("Planned the press day: %(plan)s.") % {"plan": plan_words(yield_expected, shares)}
    else:
        changes = _differences(yield_expected, shares, before_yield, before)
        words = _("Changed the plan of the press day: %(changes)s.") % {"changes": changes}
    plan.yield_expected, plan.changed_at, plan.changed_by = yield_expected, at, by
    plan.revision += 1
    plan.save()
    plan.shares.all().delete()
    PlanShare.objects.bulk_create(
        PlanShare(plan=plan, kind=kind, use=kind.usual_use, percent=shares[kind]) for kind in shares
    )
    logbook.write(deed="plan_saved", text=words, about=[booking, booking.village], by=by, at=at)
    return plan


def plan_words(yield_expected: Decimal, shares: Mapping[ContainerKind, int]) -> str:
    """A plan in a few words: "0.55 L/kg, 60 % in 3 L bag-in-box"."""
    words = [_("%(percent)s %% in %(kind)s") % {"percent": percent, "kind": kind} for kind, percent in shares.items()]
    return ", ".join([_("%(yield)s L/kg") % {"yield": f"{yield_expected.normalize():f}"}, *words])


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


def _check_plan(
    yield_expected: Decimal, shares: Mapping[ContainerKind, int], before: Mapping[ContainerKind, int]
) -> None:
    if not yield_expected.is_finite() or not LEAST_YIELD <= yield_expected <= MOST_YIELD:
        raise YieldNotBelieved
    total = sum(shares.values())
    if total != 100 or min(shares.values()) < 0:
        raise SharesNotAHundred(total)
    for kind in shares:
        if kind.retired_on and kind not in before:
            raise KindRetired(kind)


def _shares_of(plan: PressPlan) -> dict[ContainerKind, int]:
    return {share.kind: share.percent for share in plan.shares.select_related("kind").order_by("pk")}


def _differences(
    now_yield: Decimal, now: Mapping[ContainerKind, int], other_yield: Decimal, other: Mapping[ContainerKind, int]
) -> str:
    """What the one plan has otherwise than the other: "0.6 L/kg, 40 % in 5 L bag-in-box, none in 25 L fermenter"."""
    words = []
    if now_yield != other_yield:
        words.append(_("%(yield)s L/kg") % {"yield": f"{now_yield.normalize():f}"})
    for kind in {**now, **other}:
        if now.get(kind) != other.get(kind):
            text = _("%(percent)s %% in %(kind)s") if kind in now else _("none in %(kind)s")
            words.append(text % {"percent": now.get(kind, 0), "kind": kind})
    return ", ".join(words)


def _save_kind(kind: ContainerKind) -> None:
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
