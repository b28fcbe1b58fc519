"""What must exist once, told twice: the database itself refuses, whatever the code around it believes."""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, models, transaction

from kitshare.checks import pausing
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome, Photo, SignedRole
from kitshare.checks.sent_models import SentSheet
from kitshare.people.models import Member
from kitshare.pressdays.models import AtHand, ContainerKind, PlanShare, PressPlan
from kitshare.rules.checklists import Severity
from kitshare.rules.containers import Use
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import FaultNote


@contextmanager
def refused(promise: str) -> Iterator[None]:
    """The database refuses because of this promise. SQLite names columns instead of the promise."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        yield
    assert promise in str(caught.value) or (connection.vendor == "sqlite" and "UNIQUE" in str(caught.value))


def keep_again(row: models.Model, **changes: object) -> None:
    """Write the same row once more, under a key of its own where it has one."""
    row.pk = None
    if hasattr(row, "key"):
        row.key = uuid.uuid4()
    for name, value in changes.items():
        setattr(row, name, value)
    row.save(force_insert=True)


@pytest.fixture
def pickup(agreed_booking, perpetua, now) -> HandoverCheck:
    return HandoverCheck.objects.create(
        booking=agreed_booking,
        kind=CheckKind.PICKUP,
        outcome=Outcome.HANDED_OVER,
        by=perpetua,
        signed_name="Sunniva Okparadine",
        signed_role=SignedRole.BORROWER,
        done_at=now,
        digest="0" * 64,
    )


def test_a_booking_is_handed_over_once_and_stopped_as_often_as_it_must_be(pickup):
    keep_again(pickup, outcome=Outcome.STOPPED)
    keep_again(pickup, outcome=Outcome.STOPPED)

    with refused("booking_handed_over_once"):
        keep_again(pickup, outcome=Outcome.HANDED_OVER)


def test_a_part_is_seen_once_a_check(pickup, drive_pin):
    line = CheckLine.objects.create(check_of=pickup, part=drive_pin, expected_count=1, count=1, condition="sound")

    with refused("part_seen_once_a_check"):
        keep_again(line, count=0, condition="missing")


def test_the_same_picture_is_kept_once_a_booking(agreed_booking, sunniva, now):
    photo = Photo.objects.create(
        booking=agreed_booking, image="one.jpg", digest="1" * 64, taken_by=sunniva, taken_at=now
    )

    with refused("photo_kept_once_a_booking"):
        keep_again(photo)


def test_a_member_has_one_pause_of_a_check(agreed_booking, sunniva, now):
    pause = pausing.pause_sheet(
        booking=agreed_booking, kind=CheckKind.PICKUP, fields={}, seen=0, total=5, by=sunniva, at=now
    )

    with refused("one_pause_a_member_and_check"):
        keep_again(pause)


def test_a_sheet_that_was_dealt_with_says_by_whom(agreed_booking, sunniva, now):
    facts = {"made_at": now, "is_made_away": True, "received_at": now, "body": {}, "kind": "pickup"}

    with refused("sheet_dealt_with_says_by_whom"):
        SentSheet.objects.create(key=uuid.uuid4(), booking=agreed_booking, by=sunniva, dealt_at=now, **facts)


def test_of_two_tabs_only_one_changes_a_fault(mill, teodor, now):
    fault = upkeep.report_fault(
        machine=mill, part=None, note="Squeals.", severity=Severity.LOOKS_ONLY, by=teodor, at=now
    )
    note = FaultNote.objects.create(fault=fault, revision=fault.revision + 1, by=teodor, at=now, text="Oiled.")

    with refused("fault_changed_by_one_at_a_time"):
        keep_again(note, text="Not oiled.")


def test_an_address_belongs_to_one_member_whatever_its_case(sunniva):
    with refused("member_address_used_once"):
        Member.objects.create(name="Somebody else", email="SUNNIVA@example.org")


@pytest.mark.django_db
def test_a_kind_of_container_has_a_name_of_its_own_whatever_its_case():
    ContainerKind.objects.create(name="Jug", litres=Decimal("2"))

    with refused("container_kind_name_used_once"):
        ContainerKind.objects.create(name="JUG", litres=Decimal("3"))


def test_a_plan_names_a_kind_of_container_once(agreed_booking, sunniva, now):
    plan = PressPlan.objects.create(booking=agreed_booking, changed_at=now, changed_by=sunniva)
    jug = ContainerKind.objects.create(name="Jug", litres=Decimal("2"))
    share = PlanShare.objects.create(plan=plan, kind=jug, percent=40)

    with refused("container_kind_once_a_plan_and_use"):
        keep_again(share, percent=60)
    keep_again(share, use=Use.FRESH, percent=60)


def test_a_plan_says_once_how_many_of_a_kind_are_at_hand(agreed_booking, sunniva, now):
    plan = PressPlan.objects.create(booking=agreed_booking, changed_at=now, changed_by=sunniva)
    jug = ContainerKind.objects.create(name="Jug", litres=Decimal("2"))
    own = AtHand.objects.create(plan=plan, kind=jug, number=4)

    with refused("container_kind_at_hand_once_a_plan"):
        keep_again(own, number=5)
