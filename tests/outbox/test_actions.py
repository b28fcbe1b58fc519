import smtplib
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.db import IntegrityError, transaction

from kitshare.logbook.models import Entry
from kitshare.outbox import actions as outbox
from kitshare.outbox import by_hand
from kitshare.outbox.channels import mail as by_mail
from kitshare.outbox.models import TRIES, Channel, Message


@pytest.fixture(autouse=True)
def a_mail_server(settings):
    settings.EMAIL_ADDRESS = "smtp://mail.example.org"
    settings.DEFAULT_FROM_EMAIL = "Pressing Share <kit@example.org>"


@pytest.fixture
def told(sunniva, now):
    """Queues one message to Sunniva: `told("pickup:1", thread="booking:1")`."""

    def tell(key="pickup:1", **words):
        words = {"subject": "Your pickup", "body": "Come at nine.", "to": sunniva, "at": now} | words
        return outbox.queue(key=key, **words)

    return tell


def broken(monkeypatch, error: Exception) -> None:
    class Broken(BaseEmailBackend):
        def send_messages(self, messages):
            raise error

    monkeypatch.setattr(by_mail, "get_connection", Broken)


def test_a_key_is_told_once(told):
    first = told("pickup:1")

    again = told("pickup:1", subject="Something else")

    assert first is not None
    assert again is None
    assert Message.objects.get().subject == "Your pickup"


def test_the_database_itself_refuses_a_second_message_of_a_key(told, now):
    message = told()
    message.pk = None

    with pytest.raises(IntegrityError, match=r"message_told_once|outbox_message\.key"), transaction.atomic():
        message.save(force_insert=True)


def test_the_database_itself_refuses_a_mail_without_an_address(told):
    message = told()
    message.to_address = ""

    with pytest.raises(IntegrityError, match="message_by_mail_has_an_address"), transaction.atomic():
        message.save()


def test_somebody_without_an_address_is_to_be_telephoned(told, sunniva, now):
    sunniva.email = None

    message = told(to=sunniva)

    assert message.channel == Channel.TELEPHONE
    assert list(Message.objects.to_telephone()) == [message]
    assert outbox.deliver_due(at=now) == outbox.Delivered(sent=0, failed=0)


def test_a_message_keeps_its_kind_and_whether_it_is_about_safety(told):
    told("notice:1")
    told("pickup-tomorrow:1", kind="pickup")
    told("fault:1", is_safety=True)

    kept = Message.objects.order_by("pk").values_list("key", "kind", "is_safety")
    assert list(kept) == [("notice:1", "", False), ("pickup-tomorrow:1", "pickup", False), ("fault:1", "", True)]


def test_a_message_goes_out_once_and_is_marked(told, now):
    message = told()

    first = outbox.deliver_due(at=now)
    second = outbox.deliver_due(at=now + timedelta(hours=1))

    message.refresh_from_db()
    assert (first.sent, second.sent) == (1, 0)
    assert len(mail.outbox) == 1
    assert mail.outbox[0].to == ["Sunniva Okparadine <sunniva@example.org>"]
    assert message.sent_at == now
    assert not message.kept_here


def test_without_a_mail_server_the_message_says_that_it_went_nowhere(told, now, settings):
    settings.EMAIL_ADDRESS = ""
    message = told()

    outbox.deliver_due(at=now)

    message.refresh_from_db()
    assert message.sent_at == now
    assert message.kept_here


def test_a_message_waits_until_it_is_due(told, now):
    told(due_at=now + timedelta(hours=2))

    early = outbox.deliver_due(at=now)
    later = outbox.deliver_due(at=now + timedelta(hours=2))

    assert (early.sent, later.sent) == (0, 1)


def test_machine_mail_says_so_and_one_booking_reads_as_one_thread(told, now):
    told("asked:1", thread="booking:1")
    told("agreed:1", thread="booking:1")
    told("agreed:2", thread="booking:2")

    outbox.deliver_due(at=now)

    asked, agreed, other = (sent.message() for sent in mail.outbox)
    assert asked["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
    assert asked["References"] == agreed["References"] == agreed["In-Reply-To"] != other["References"]
    assert len({sent["Message-ID"] for sent in (asked, agreed, other)}) == 3
    assert asked["Message-ID"].endswith("@example.org>")


def test_a_message_sent_twice_carries_the_same_message_id(told, now):
    message = told()
    outbox.deliver_due(at=now)
    Message.objects.filter(pk=message.pk).update(sent_at=None)

    outbox.deliver_due(at=now)

    first, second = mail.outbox
    assert first.message()["Message-ID"] == second.message()["Message-ID"]


def test_a_line_break_in_a_subject_forges_no_header(told, now):
    told(subject="Your pickup\r\nBcc: everybody@example.org")

    outbox.deliver_due(at=now)

    assert mail.outbox[0].message()["Bcc"] is None
    assert mail.outbox[0].subject == "Your pickup Bcc: everybody@example.org"


def test_a_name_with_accents_and_commas_reaches_the_mail(told, sunniva, now):
    sunniva.name = 'Emrys "the mill" ap Ferrow, Tŷ-Ferrow'

    told(to=sunniva)
    outbox.deliver_due(at=now)

    assert "sunniva@example.org" in mail.outbox[0].message()["To"]


def test_what_a_sender_holds_no_other_sender_claims_until_the_lease_ends(told, now):
    message = told()
    Message.objects.filter(pk=message.pk).update(claimed_until=now + outbox.LEASE)

    meanwhile = outbox.deliver_due(at=now + outbox.LEASE)
    afterwards = outbox.deliver_due(at=now + outbox.LEASE + timedelta(seconds=1))

    assert (meanwhile.sent, afterwards.sent) == (0, 1)


def test_a_failure_is_kept_and_tried_again_after_a_pause(told, now, monkeypatch):
    message = told()
    broken(monkeypatch, ConnectionRefusedError("nobody listens"))

    first = outbox.deliver_due(at=now)
    at_once = outbox.deliver_due(at=now)

    message.refresh_from_db()
    assert (first.failed, at_once.failed) == (1, 0)
    assert message.attempts == 1
    assert "nobody listens" in message.last_error
    assert timedelta(seconds=48) <= message.due_at - now <= timedelta(seconds=72)


def test_pauses_double_and_end_at_six_hours():
    assert timedelta(minutes=3.2) <= outbox.pause_after(3) <= timedelta(minutes=4.8)
    assert timedelta(hours=4.8) <= outbox.pause_after(TRIES) <= timedelta(hours=7.2)


def test_one_message_that_fails_does_not_hold_up_the_next(told, now, monkeypatch):
    told("first", subject="Cannot be sent")
    told("second", subject="Can be sent")
    as_mail = by_mail.as_mail

    def unfit(message):
        if message.key == "first":
            raise ValueError("unfit header")
        return as_mail(message)

    monkeypatch.setattr(by_mail, "as_mail", unfit)
    assert outbox.deliver_due(at=now) == outbox.Delivered(sent=1, failed=1)


def test_the_sender_gives_up_in_the_end_and_the_message_stays_in_sight(told, now, monkeypatch, perpetua):
    message = told()
    broken(monkeypatch, TimeoutError("slow"))
    at = now
    for _round in range(TRIES + 5):
        outbox.deliver_due(at=at)
        at += timedelta(hours=8)

    message.refresh_from_db()
    assert message.attempts == TRIES
    assert message.is_given_up
    assert list(Message.objects.given_up()) == [message]

    monkeypatch.undo()
    by_hand.try_again(message=message, by=perpetua, at=at)
    assert outbox.deliver_due(at=at).sent == 1


@pytest.mark.parametrize(("code", "given_up"), [(550, True), (450, False)])
def test_an_address_that_does_not_exist_is_given_up_at_once(told, now, monkeypatch, code, given_up):
    message = told()
    broken(monkeypatch, smtplib.SMTPRecipientsRefused({"sunniva@example.org": (code, b"no such mailbox")}))

    outbox.deliver_due(at=now)

    message.refresh_from_db()
    assert message.is_given_up is given_up
    assert "no such mailbox" in message.last_error


def test_told_by_telephone_says_who_rang_and_stands_in_the_logbook(told, perpetua, sunniva, now):
    sunniva.email = None
    message = told(to=sunniva)

    by_hand.mark_told(message=message, by=perpetua, at=now)

    assert message.sent_at == now
    assert message.told_by_name == "Perpetua Quillstone"
    assert "by telephone" in Entry.objects.about(message).get().text
    with pytest.raises(by_hand.AlreadyTold):
        by_hand.mark_told(message=message, by=perpetua, at=now)
    assert Entry.objects.about(message).count() == 1


def test_what_was_sent_cannot_be_sent_again_by_hand(told, perpetua, now):
    message = told()
    outbox.deliver_due(at=now)

    with pytest.raises(by_hand.AlreadyTold, match="was told already"):
        by_hand.try_again(message=message, by=perpetua, at=now)


@pytest.mark.django_db(transaction=True)
def test_sending_inside_a_transaction_is_refused(now):
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        outbox.deliver_due(at=now)


def test_a_round_stops_claiming_before_its_leases_run_out(told, now, monkeypatch):
    for number in range(3):
        told(f"pickup:{number}")
    clock = iter([0.0, 1.0, 59.0, 61.0])
    monkeypatch.setattr(outbox, "time", SimpleNamespace(monotonic=lambda: next(clock)))

    assert outbox.deliver_due(at=now).sent == 2
    assert Message.objects.filter(claimed_until=None, attempts=0).count() == 1
