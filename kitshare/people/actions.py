"""Every change to the scheme, its members and its villages."""

import uuid
from collections.abc import Collection
from datetime import date, datetime, time
from decimal import Decimal
from typing import NamedTuple, TypeVar

from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change, in_words
from kitshare.people.models import Member, Scheme, Village
from kitshare.people.refusals import AddressTaken, LastCoordinator, SchemeExists, SignsWithoutBorrowing
from kitshare.people.saving import added_by, check_borrow, coordinators_who_can_sign_in, save_member, save_village

Thing = TypeVar("Thing", bound=models.Model)


class Started(NamedTuple):
    scheme: Scheme
    coordinator: Member


@deed
def start_scheme(
    *,
    name: str,
    telephone: str,
    time_zone: str,
    units: str,
    coordinator_name: str,
    coordinator_email: str,
    password: str,
    at: datetime,
    is_demonstration: bool = False,
) -> Started:
    """Begin the one scheme of this site, with the coordinator who will run it."""
    scheme = Scheme(
        pk=1, name=name, telephone=telephone, time_zone=time_zone, units=units, is_demonstration=is_demonstration
    )
    try:
        with transaction.atomic():
            scheme.save(force_insert=True)
    except IntegrityError:
        raise SchemeExists from None
    coordinator = Member(name=coordinator_name, email=coordinator_email, telephone=telephone, coordinates=True)
    coordinator.set_password(password)
    save_member(coordinator)
    text = _("Started the scheme %(name)s.") % {"name": name}
    logbook.write(deed="scheme_started", text=text, about=[scheme, coordinator], by=coordinator, at=at)
    return Started(scheme, coordinator)


@deed
def change_scheme(
    *,
    scheme: Scheme,
    name: str,
    telephone: str,
    time_zone: str,
    units: str,
    crate_kg: Decimal,
    sack_kg: Decimal,
    pomace_sack_kg: Decimal,
    offer_hours: int,
    by: Member,
    at: datetime,
    seen: int | None = None,
    out_time: time | None = None,
    back_time: time | None = None,
) -> Scheme:
    """Change the scheme's settings. What bookings were asked in stays as it was asked."""
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    changes = change(
        scheme,
        name=name,
        telephone=telephone,
        time_zone=time_zone,
        units=units,
        crate_kg=crate_kg,
        sack_kg=sack_kg,
        pomace_sack_kg=pomace_sack_kg,
        out_time=out_time or scheme.out_time,
        back_time=back_time or scheme.back_time,
        offer_hours=offer_hours,
    )
    if changes:
        logbook.check_unchanged(scheme, seen=seen, by_deeds=["scheme_changed"])
        scheme.save(update_fields=list(changes))
        text = _("Changed the scheme: %(changes)s.") % {"changes": in_words(scheme, changes)}
        logbook.write(deed="scheme_changed", text=text, about=[scheme], by=by, at=at)
    return scheme


@deed
def add_member(
    *,
    name: str,
    email: str | None,
    telephone: str,
    coordinates: bool = False,
    borrows: bool = False,
    maintains: bool = False,
    password: str | None = None,
    villages: Collection[Village] = (),
    by: Member,
    at: datetime,
    form_key: uuid.UUID | None = None,
) -> Member:
    """Let somebody into the scheme. Without an e-mail address or a password they cannot sign in yet.

    A form sends a key of its own: sent twice, it is one member, and the second answer is the first.
    """
    key = uuid.uuid5(form_key, f"{by.pk} {name} {email} {telephone}") if form_key else None
    if added_before := added_by(key):
        return added_before
    if villages and not borrows:
        raise SignsWithoutBorrowing(name)
    member = Member(
        name=name,
        email=email or None,
        telephone=telephone,
        coordinates=coordinates,
        borrows=borrows,
        maintains=maintains,
        form_key=key,
    )
    member.set_password(password)
    try:
        save_member(member)
    except AddressTaken:
        if added_meanwhile := added_by(key):
            return added_meanwhile
        raise
    member.villages.set(villages)
    text = _("Added the member %(name)s (%(roles)s).") % {"name": name, "roles": _roles(member)}
    logbook.write(deed="member_added", text=text, about=[member, *villages], by=by, at=at)
    return member


@deed
def change_member(
    *,
    member: Member,
    name: str,
    email: str | None,
    telephone: str,
    coordinates: bool,
    borrows: bool,
    maintains: bool,
    is_active: bool,
    villages: Collection[Village],
    by: Member,
    at: datetime,
    seen: int | None = None,
) -> Member:
    """Change who a member is and what they may do."""
    others = coordinators_who_can_sign_in(but=member)
    member = Member.objects.select_for_update().get(pk=member.pk)
    if member.coordinates and not others and not (coordinates and is_active and email):
        raise LastCoordinator(member)
    if villages and not borrows:
        raise SignsWithoutBorrowing(name)
    changes = change(
        member,
        name=name,
        email=email or None,
        telephone=telephone,
        coordinates=coordinates,
        borrows=borrows,
        maintains=maintains,
        is_active=is_active,
    )
    moved = _set_of(member.villages.all()) ^ set(villages)
    if changes or moved:
        logbook.check_unchanged(member, seen=seen, by_deeds=["member_changed", "village_changed", "village_added"])
    save_member(member)
    member.villages.set(villages)
    if changes or moved:
        text = _("Changed the member %(name)s: %(changes)s.") % {
            "name": member.name,
            "changes": in_words(member, changes, moved=_("villages they sign for") if moved else ""),
        }
        about = [member, *sorted(moved, key=lambda village: village.pk)]
        logbook.write(deed="member_changed", text=text, about=about, by=by, at=at)
    return member


@deed
def change_own_facts(
    *, member: Member, name: str, email: str | None, telephone: str, at: datetime, seen: int | None = None
) -> Member:
    """A member corrects their own name, address and telephone; roles and villages stay."""
    member = Member.objects.select_for_update().get(pk=member.pk)
    return change_member(
        member=member,
        name=name,
        email=email,
        telephone=telephone,
        coordinates=member.coordinates,
        borrows=member.borrows,
        maintains=member.maintains,
        is_active=member.is_active,
        villages=_set_of(member.villages.all()),
        by=member,
        at=at,
        seen=seen,
    )


@deed
def set_password(*, member: Member, password: str, by: Member, at: datetime) -> Member:
    """Give a member a password. Their other sign-ins end with the old one."""
    member.set_password(password)
    member.save(update_fields=["password"])
    words = _("Changed their own password.") if by.pk == member.pk else _("Gave %(name)s a new password.")
    logbook.write(deed="password_set", text=words % {"name": member.name}, about=[member], by=by, at=at)
    return member


@deed
def add_village(*, name: str, note: str = "", borrowers: Collection[Member] = (), by: Member, at: datetime) -> Village:
    """Let a village borrow."""
    village = Village(name=name, note=note)
    save_village(village)
    check_borrow(borrowers)
    village.borrowers.set(borrowers)
    text = _("Added the village %(name)s.") % {"name": name}
    logbook.write(deed="village_added", text=text, about=[village, *borrowers], by=by, at=at)
    return village


@deed
def change_village(
    *,
    village: Village,
    name: str,
    note: str,
    borrowers: Collection[Member],
    by: Member,
    at: datetime,
    seen: int | None = None,
) -> Village:
    """Change a village's name, note, or who signs for it."""
    village = Village.objects.select_for_update().get(pk=village.pk)
    changes = change(village, name=name, note=note)
    moved = _set_of(village.borrowers.all()) ^ set(borrowers)
    if changes or moved:
        logbook.check_unchanged(village, seen=seen, by_deeds=["village_changed", "member_changed", "member_added"])
    save_village(village)
    check_borrow(set(borrowers) & moved)
    village.borrowers.set(borrowers)
    if changes or moved:
        words = in_words(village, changes, moved=_("who signs for it") if moved else "")
        text = _("Changed the village %(name)s: %(changes)s.") % {"name": village.name, "changes": words}
        about = [village, *sorted(moved, key=lambda member: member.pk)]
        logbook.write(deed="village_changed", text=text, about=about, by=by, at=at)
    return village


@deed
def village_leaves(*, village: Village, on: date, by: Member, at: datetime) -> Village:
    """The village borrows no more; its history stays. That it holds no kit is for the bookings to say."""
    village.left_on = on
    village.save(update_fields=["left_on"])
    text = _("%(name)s left the scheme.") % {"name": village.name}
    logbook.write(deed="village_left", text=text, about=[village], by=by, at=at)
    return village


@deed
def village_returns(*, village: Village, by: Member, at: datetime) -> Village:
    """A village that had left may borrow again."""
    village.left_on = None
    village.save(update_fields=["left_on"])
    text = _("%(name)s came back to the scheme.") % {"name": village.name}
    logbook.write(deed="village_returned", text=text, about=[village], by=by, at=at)
    return village


def _set_of(things: models.QuerySet[Thing]) -> set[Thing]:
    return set(things)


def _roles(member: Member) -> str:
    return ", ".join(member.role_names) or _("no role yet")
