"""Addresses from which post comes back."""

import smtplib
from datetime import timedelta

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from django.db import IntegrityError, transaction

from kitshare.outbox import actions as outbox
from kitshare.outbox import returns
from kitshare.outbox.channels import mail as by_mail
from kitshare.outbox.models import TRIES, BadAddress, Channel, Message


@pytest.fixture(autouse=True)
def a_mail_server(settings):
    settings.EMAIL_ADDRESS = "smtp://mail.example.org"


@pytest.fixture
def answers(monkeypatch):
    """What the mail server answers to a recipient: `answers(550)`; nothing for "taken"."""

    def answer(code: int = 0, error: Exception | None = None, words: bytes = b"no such mailbox") -> None:
        class Office(BaseEmailBackend):
            def send_messages(self, mails):
                refused = {one.to[0]: (code, words) for one in mails}
                if error or code:
                    raise error or smtplib.SMTPRecipientsRefused(refused)

        monkeypatch.setattr(by_mail, "get_connection", Office)

    return answer


@pytest.fixture
def told(sunniva, now):
    def tell(key, **words):
        return outbox.queue(key=key, **({"subject": "Changed", "body": "Words.", "to": sunniva, "at": now} | words))

    return tell


def bad(address: str = "Sunniva@example.org") -> bool:
    return BadAddress.objects.bad().of(address).exists()


def give_up(at, *, rounds: int = TRIES) -> None:
    for turn in range(rounds):
        outbox.deliver_due(at=at + timedelta(hours=8 * turn))


def test_an_address_refused_for_good_is_bad_at_once_and_its_messages_are_telephoned_too(told, answers, now):
    told("first")
    answers(550)
    outbox.deliver_due(at=now)

    told("second")

    assert bad()
    assert "550 no such mailbox" in BadAddress.objects.get().words
    assert set(Message.objects.to_telephone().values_list("key", flat=True)) == {"call:first", "call:second"}
    assert Message.objects.get(key="second").channel == Channel.MAIL


def test_an_address_is_bad_once_two_letters_were_given_up_for_it(told, answers, now):
    answers(450)
    told("first")
    give_up(now)
    after_one = bad()
    told("second", at=now + timedelta(days=9))
    give_up(now + timedelta(days=9))

    assert (after_one, bad()) == (False, True)


def test_a_mail_server_that_is_not_there_blames_no_address(told, answers, now):
    answers(error=ConnectionRefusedError("nobody listens"))
    for number in range(3):
        told(f"letter:{number}")
    give_up(now)

    assert Message.objects.given_up().count() == 3
    assert not BadAddress.objects.exists()


def test_a_server_that_takes_no_letters_of_ours_blames_no_address(told, answers, now):
    told("first")
    answers(550, words=b"5.7.1 relaying denied")

    outbox.deliver_due(at=now)

    assert Message.objects.given_up().count() == 1
    assert not BadAddress.objects.exists()


def test_a_later_letter_that_arrives_makes_the_address_good_again(told, answers, now):
    told("first")
    answers(550)
    outbox.deliver_due(at=now)
    told("second")
    answers()

    outbox.deliver_due(at=now)

    assert not bad()


def test_what_is_only_kept_here_says_nothing_of_the_address(told, answers, now, settings):
    told("first")
    answers(550)
    outbox.deliver_due(at=now)
    settings.EMAIL_ADDRESS = ""
    told("second")
    answers()

    outbox.deliver_due(at=now)

    assert bad()


def test_another_address_has_nothing_to_do_with_it(told, answers, now, sunniva):
    told("first")
    answers(550)
    outbox.deliver_due(at=now)
    sunniva.email = "sunniva@elsewhere.example.org"

    told("second")

    assert not Message.objects.filter(key="call:second").exists()


def test_an_address_that_returned_letters_after_taking_them_is_good_only_after_days_of_silence(sunniva, now):
    facts = {"address": sunniva.email, "words": "5.1.1", "for_good": True, "returned": True}
    returns.note_refused(at=now, **facts)
    for days in (1, 3):
        returns.note_taken(address=sunniva.email, at=now + timedelta(days=days))
    still = bad()
    returns.note_refused(at=now + timedelta(days=4), **facts)
    for days in (5, 9):
        returns.note_taken(address=sunniva.email, at=now + timedelta(days=days))
    and_still = bad()

    returns.note_taken(address=sunniva.email, at=now + timedelta(days=10))

    assert (still, and_still, bad()) == (True, True, False)


@pytest.mark.django_db
def test_the_database_itself_keeps_an_address_once(now):
    returns.note_refused(address="Sunniva@example.org", words="550", for_good=True, at=now)

    with pytest.raises(IntegrityError, match=r"bad_address_kept_once|UNIQUE"), transaction.atomic():
        BadAddress.objects.create(address="sunniva@example.org", is_bad=True, was_returned=False, last_at=now, words="")
