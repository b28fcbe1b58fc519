"""The letter of the day: gathered once, wholly or not at all."""

import os
import signal
from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from django.core import mail
from django.db import IntegrityError, transaction

from kitshare.outbox import actions as outbox
from kitshare.outbox import digests
from kitshare.outbox.models import Channel, Message, MessageQuerySet
from kitshare.rules.hearing import Telling, Wishes
from tests.racing import at_once, killed_in


def somebody(wishes: Wishes, pk: int = 7) -> SimpleNamespace:
    return SimpleNamespace(
        pk=pk, name="Sunniva Okparadine", email="sunniva@example.org", telephone="", wishes=lambda: wishes
    )


@pytest.fixture
def once_a_day(now) -> SimpleNamespace:
    """Somebody who is told once a day, two hours from now."""
    return somebody(Wishes(digest_at=(now + timedelta(hours=2)).time()))


@pytest.fixture
def told(db, once_a_day, now):
    def tell(key="changed:1", **words):
        words = {"subject": f"About {key}", "body": f"Words of {key}.", "to": once_a_day, "at": now} | words
        return outbox.queue(key=key, **words)

    return tell


@pytest.fixture(autouse=True)
def a_mail_server(settings):
    settings.EMAIL_ADDRESS = "smtp://mail.example.org"


def test_what_waits_is_gathered_into_one_letter_at_its_hour(told, now):
    told("changed:1")
    told("changed:2")

    early = (digests.gather_all(at=now), outbox.deliver_due(at=now).sent)
    at = now + timedelta(hours=2)
    digests.gather_all(at=at)
    sent = outbox.deliver_due(at=at).sent
    again = (digests.gather_all(at=at), outbox.deliver_due(at=at).sent)

    assert (early, sent, again) == ((0, 0), 1, (0, 0))
    letter = mail.outbox[0]
    assert letter.subject == "2 messages: About changed:1 and more"
    assert all(words in letter.body for words in ("1. About changed:1", "Words of changed:1.", "Words of changed:2."))
    assert not Message.objects.waiting().exists()


def test_what_is_about_safety_or_answers_or_runs_out_waits_for_no_digest(told, now, once_a_day):
    at_night = somebody(Wishes(quiet_from=now.time(), quiet_until=(now + timedelta(hours=8)).time()), pk=8)
    told("safety", is_safety=True)
    told("answer", alone=True)
    told("invitation", calendar="BEGIN:VCALENDAR\r\nMETHOD:REQUEST\r\n")
    told("runs out", needed_by=now + timedelta(hours=3))
    told("safety at night", is_safety=True, to=at_night)
    told("changed", to=at_night)
    told("can wait", needed_by=now + timedelta(hours=24))

    outbox.deliver_due(at=now)

    waiting = dict(Message.objects.waiting().values_list("key", "due_at"))
    assert waiting == {"changed": now + timedelta(hours=8), "can wait": now + timedelta(hours=2)}


def test_a_reminder_that_nobody_wants_is_kept_and_goes_nowhere_but_what_is_about_safety_does(told, now):
    unwilling = somebody(Wishes(reminders=False))

    told("pickup-tomorrow:1", kind="pickup", to=unwilling)
    told("booking-at-risk:1", kind="at-risk", is_safety=True, to=unwilling)
    told("changed:1", to=unwilling)

    assert outbox.deliver_due(at=now).sent == 2
    assert Message.objects.get(channel=Channel.UNWANTED).key == "pickup-tomorrow:1"
    assert told("pickup-tomorrow:1", kind="pickup") is None
    assert not Message.objects.waiting().exists()


def test_a_digest_of_one_letter_is_that_letter(told, now):
    told("changed:1", thread="booking:1")
    at = now + timedelta(hours=2)

    digests.gather_all(at=at)
    outbox.deliver_due(at=at)

    assert mail.outbox[0].subject == "About changed:1"
    assert "References" in mail.outbox[0].message()


def test_what_comes_too_late_for_a_digest_goes_by_itself(told, now):
    at = now + timedelta(hours=2)
    told("changed:1")
    digests.gather_all(at=at)
    late = told("changed:2")  # its transaction began before the hour, and ended after it

    digests.gather_all(at=at + timedelta(minutes=1))
    outbox.deliver_due(at=at + timedelta(minutes=1))

    late.refresh_from_db()
    assert late.sent_at is not None
    assert Message.objects.filter(is_digest=True).count() == 1
    assert len(mail.outbox) == 2


def test_days_on_which_no_round_ran_are_gathered_into_one(told, now):
    told("changed:1")
    told("changed:2", at=now + timedelta(days=1))

    assert digests.gather_all(at=now + timedelta(days=3)) == 1
    assert Message.objects.get(is_digest=True).digest_on == date(2027, 9, 2)


@pytest.mark.django_db(transaction=True)
def test_a_process_killed_while_it_gathers_leaves_everything_waiting(told, now, monkeypatch):
    told("changed:1")
    told("changed:2")
    at = now + timedelta(hours=2)

    with monkeypatch.context() as patch:
        patch.setattr(MessageQuerySet, "update", lambda *_a, **_k: os.kill(os.getpid(), signal.SIGKILL))
        ended_by = killed_in(lambda: digests.gather_all(at=at))

    assert ended_by == signal.SIGKILL
    assert Message.objects.for_digest().count() == 2
    assert not Message.objects.filter(is_digest=True).exists()
    assert digests.gather_all(at=at) == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.race
def test_rounds_that_gather_at_once_make_one_digest_with_everything_in_it(told, now):
    told("changed:1")
    told("changed:2")
    at = now + timedelta(hours=2)

    made = at_once(*[lambda: digests.gather_all(at=at)] * 4)

    assert sum(made) == 1
    assert Message.objects.get(is_digest=True).gathered.count() == 2
    assert outbox.deliver_due(at=at).sent == 1


def test_the_database_itself_refuses_a_second_digest_of_a_day(told, now):
    told("changed:1")
    digests.gather_all(at=now + timedelta(hours=2))
    second = Message.objects.get(is_digest=True)
    second.pk, second.key = None, "digest:again"

    with pytest.raises(IntegrityError, match=r"one_digest_a_member_and_day|UNIQUE"), transaction.atomic():
        second.save(force_insert=True)


def test_the_database_itself_refuses_to_send_what_a_digest_took_along(told, now):
    gathered = told("changed:1")
    digests.gather_all(at=now + timedelta(hours=2))

    with pytest.raises(IntegrityError, match="gathered_message_is_not_sent_itself"), transaction.atomic():
        Message.objects.filter(pk=gathered.pk).update(sent_at=now)


def test_whoever_wants_no_digest_any_more_gets_what_waited(told, now):
    told("changed:1")

    digests.let_go(member_key=7, telling=Telling(now))

    assert outbox.deliver_due(at=now).sent == 1


def test_reminders_that_wait_are_kept_back_from_whoever_stops_them(told, now):
    told("pickup-tomorrow:1", kind="pickup")
    told("at-risk:1", kind="at-risk", is_safety=True)
    told("changed:1")

    assert digests.drop_reminders(member_key=7) == 1
    assert set(Message.objects.waiting().values_list("key", flat=True)) == {"at-risk:1", "changed:1"}
