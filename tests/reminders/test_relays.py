"""The letter on the day before a relay: to both villages, each with what it has to do."""

import pytest

from kitshare.outbox.models import Message
from kitshare.reminders import actions as reminders
from tests.checks.conftest import all_sound, on_the_day, parts, pick_up, relay
from tests.reminders.conftest import on

__all__ = ["all_sound", "on_the_day", "parts", "pick_up", "relay"]
pytestmark = pytest.mark.django_db


def letters(member) -> list[str]:
    return [
        message.body
        for message in Message.objects.filter(member_key=member.pk, key__startswith="relay-tomorrow").order_by("pk")
    ]


def test_both_hear_once_who_where_when_what_to_do_and_what_to_mind(relay, sunniva, leilani):
    for at in (on(2, 9), on(3, 6, 59), on(3, 7), on(3, 12), on(4, 8)):
        reminders.write_due_reminders(at=at)

    [hands], [takes] = letters(sunniva), letters(leilani)
    for body in (hands, takes):
        assert "Relay: Sorrelhythe hands the kit straight to Fennerlow on Sat 4 Sep" in body
        assert " at 09:00." in body
        assert "Where: Barn by the standpipe" in body
        assert "Who carries it: Fennerlow, with the van" in body
        assert "The guard is on and the plug is out before anybody lifts." in body
        assert "Heron mill, Heron press" in body
    assert "You meet Leilani Crabbwater of Fennerlow, telephone 01632 960 200." in hands
    assert "clean it down" in hands
    assert "You meet Sunniva Okparadine of Sorrelhythe" in takes
    assert "a second person" in takes


def test_nobody_is_sent_to_the_depot(relay):
    reminders.write_due_reminders(at=on(3))
    reminders.write_due_reminders(at=on(4))

    keys = list(Message.objects.values_list("key", flat=True))
    assert not [key for key in keys if key.startswith((f"pickup-tomorrow:{relay.second.pk}", "return-due"))]


def test_late_it_is_said_to_whom_it_was_to_go(relay, sunniva):
    reminders.write_due_reminders(at=on(5))

    body = Message.objects.get(member_key=sunniva.pk, key__startswith="return-overdue").body
    assert "It was to be handed straight to Fennerlow (Leilani Crabbwater, telephone 01632 960 200)" in body
