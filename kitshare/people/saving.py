"""What saving a member or a village may meet: a name or an address that is taken, nobody left to run the scheme."""

import uuid
from collections.abc import Collection

from django.db import IntegrityError, transaction

from kitshare.people.models import Member, Village
from kitshare.people.refusals import AddressTaken, SignsWithoutBorrowing, VillageNameTaken


def coordinators_who_can_sign_in(*, but: Member) -> list[Member]:
    """The other coordinators, locked in id order: two who demote each other at once must not both succeed."""
    able = Member.objects.coordinating().exclude(email=None).select_for_update()
    return [member for member in able if member.pk != but.pk]


def added_by(form_key: uuid.UUID | None) -> Member | None:
    return Member.objects.filter(form_key=form_key).first() if form_key else None


def check_borrow(members: Collection[Member]) -> None:
    for member in members:
        if not member.borrows:
            raise SignsWithoutBorrowing(member.name)


def save_member(member: Member) -> None:
    try:
        with transaction.atomic():
            member.save()
    except IntegrityError:
        raise AddressTaken(member.email or "") from None


def save_village(village: Village) -> None:
    if Village.objects.filter(name__iexact=village.name).exclude(pk=village.pk).exists():
        raise VillageNameTaken(village.name)
    try:
        with transaction.atomic():
            village.save()
    except IntegrityError:
        raise VillageNameTaken(village.name) from None
