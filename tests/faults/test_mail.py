"""A mail server that refuses, hangs, asks to come later or dies before it answers: the letter comes in the end."""

import socket
from datetime import timedelta

import pytest
from aiosmtpd.smtp import SMTP

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Message
from tests.faults.servers import free_port
from tests.outbox.post_office import Letters, open_office

pytestmark = [pytest.mark.django_db, pytest.mark.one_engine]


@pytest.fixture
def letters():
    return Letters()


@pytest.fixture
def office_at(settings, letters):
    """Opens the office where the letters are sent to: `office_at()`, or with another way to take them."""
    settings.EMAIL_ADDRESS = "smtp://127.0.0.1"
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.EMAIL_TIMEOUT = 0.5
    opened = []

    def open_it(taker: Letters = letters):
        office = open_office(taker)
        opened.append(office)
        settings.EMAIL_PORT = office.port
        return office

    yield open_it
    for office in opened:
        office.stop()


class LaterThenNow(Letters):
    """Answers 451 to the first, as a server does that wants to see who comes again."""

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        if not self.arrived:
            self.arrived.append("asked to come later")
            return "451 4.7.1 Try again in a few minutes"
        return await super().handle_DATA(server, session, envelope)


class TakesAndDies(Letters):
    """Takes the first letter, and goes before it says so."""

    async def handle_DATA(self, server: SMTP, session, envelope):  # noqa: N802
        answer = await super().handle_DATA(server, session, envelope)
        if len(self.arrived) == 1:
            server.transport.abort()
        return answer


@pytest.fixture
def letter(sunniva, now):
    return outbox.queue(key="pickup:1", to=sunniva, subject="Your pickup", body="Come at nine.", at=now)


def rounds(now):
    """What rounds a quarter of an hour apart sent and failed to send."""
    done = [outbox.deliver_due(at=now + timedelta(minutes=minutes)) for minutes in (15, 30, 45)]
    return [(one.sent, one.failed) for one in done]


def test_a_server_that_is_down_or_hangs_costs_a_try_and_a_time_out(letter, office_at, letters, settings, now, subtests):
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()
        for what, port, said in (
            ("refuses the connection", free_port(), "ConnectionRefusedError"),
            ("takes it and says nothing", silent.getsockname()[1], "timed out"),
        ):
            office_at()
            settings.EMAIL_PORT = port
            with subtests.test(what):
                assert outbox.deliver_due(at=now) == outbox.Delivered(sent=0, failed=1)
                letter.refresh_from_db()
                assert said in letter.last_error
                assert letter.claimed_until is None
                assert letter.due_at > now
            now += timedelta(minutes=15)
    office_at()

    assert rounds(now) == [(1, 0), (0, 0), (0, 0)]
    assert len(letters.arrived) == 1


def test_a_letter_that_is_to_come_later_comes_later_and_once(letter, office_at, now):
    server = LaterThenNow()
    office_at(server)

    assert rounds(now) == [(0, 1), (1, 0), (0, 0)]
    assert len(server.arrived[1:]) == 1


def test_a_letter_whose_answer_was_lost_comes_twice_under_one_name(letter, office_at, now):
    """RFC 5321, 4.5.3.2.6 and 6.1: who gets no answer to the end of the data must send again."""
    server = TakesAndDies()
    office_at(server)

    assert rounds(now) == [(0, 1), (1, 0), (0, 0)]
    assert len(server.arrived) == 2
    assert len(set(server.arrived)) == 1
    assert Message.objects.get().attempts == 2
