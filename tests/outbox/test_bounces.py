"""Letters that say that a letter reached nobody."""

import sys
from datetime import timedelta
from email.message import EmailMessage

import pytest
from django.core.management import call_command
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from kitshare.outbox import actions as outbox
from kitshare.outbox import bounces
from kitshare.outbox.channels.mail import mail_id
from kitshare.outbox.models import BadAddress, Message

# The fields, their order and their values are those of the first example of RFC 3464 (appendix E.1); the addresses and what it
# says to people are ours.
OF_THE_RFC = b"""\
Date: Thu, 7 Jul 1994 17:16:05 -0400
From: MAILER-DAEMON@example.net
Message-Id: <199407072116.RAA14128@example.net>
Subject: It did not go
To: <kit@example.org>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
      boundary="RAA14128.773615765/example.net"

--RAA14128.773615765/example.net

It was tried for five days.

--RAA14128.773615765/example.net
content-type: message/delivery-status

Reporting-MTA: dns; example.net

Original-Recipient: rfc822;orchard@slip.example.org
Final-Recipient: rfc822;orchard@slip.example.org
Action: failed
Status: 4.0.0
Diagnostic-Code: smtp; 426 connection timed out
Last-Attempt-Date: Thu, 7 Jul 1994 17:15:49 -0400

--RAA14128.773615765/example.net
content-type: message/rfc822

Nothing of the letter came back.
--RAA14128.773615765/example.net--
"""


def report(address: str, *, status: str = "5.1.1", action: str = "failed", returned: str = "") -> bytes:
    """A notification as a mail server writes it; `returned`: the Message-ID of what came back with it."""
    fields = (
        f"Reporting-MTA: dns; mail.example.net\n\nFinal-Recipient: rfc822; {address}\nAction: {action}\n"
        f"Status: {status}\nDiagnostic-Code: smtp; 550 5.1.1 no such mailbox\n"
    )
    headers = (
        f"--x\nContent-Type: text/rfc822-headers\n\nSubject: Changed\nMessage-ID: {returned}\n\n" if returned else ""
    )
    return (
        "From: MAILER-DAEMON@example.net\nContent-Type: multipart/report; report-type=delivery-status; boundary=x\n\n"
        f"--x\n\nIt did not go.\n--x\nContent-Type: message/delivery-status\n\n{fields}\n{headers}--x--\n"
    ).encode()


@pytest.fixture
def sent(sunniva, now, settings):
    """Two letters to Sunniva that a mail server took."""
    settings.EMAIL_ADDRESS = "smtp://mail.example.org"
    for key in ("first", "second"):
        outbox.queue(key=key, to=sunniva, subject="Changed", body="Words.", at=now)
    outbox.deliver_due(at=now)


def came_back() -> list[str]:
    return list(Message.objects.exclude(came_back_at=None).values_list("key", flat=True))


def test_the_example_of_the_standard_is_understood():
    bounce = bounces.read(OF_THE_RFC)

    assert bounce.failed == (bounces.Failed(("orchard@slip.example.org",), "4.0.0", "4.0.0 426 connection timed out"),)
    assert not bounce.failed[0].for_good


def test_the_letter_that_came_back_is_known_by_its_message_id_whatever_address_it_reached_last(sent, now):
    raw = report("forwarded@elsewhere.example", returned=mail_id("first"))

    taken = [bounces.take(raw=raw, at=now + timedelta(minutes=turn)).letters for turn in range(2)]

    assert taken == [1, 0]
    assert came_back() == ["first"]
    known = BadAddress.objects.bad().of("sunniva@example.org").get()
    assert (known.was_returned, known.letters) == (True, 1)
    assert known.words == "5.1.1 550 5.1.1 no such mailbox"
    assert Message.objects.to_telephone().get().key == "call:first"


def test_without_a_message_id_it_is_the_newest_letter_to_that_address(sent, now):
    assert bounces.take(raw=report("SUNNIVA@example.org"), at=now).addresses == ("sunniva@example.org",)
    assert came_back() == ["second"]


@pytest.mark.parametrize(
    "raw",
    [
        report("sunniva@example.org", action="delayed", status="4.4.1"),
        report("somebody@elsewhere.example"),
        report("sunniva@example.org", returned="<somebody-elses-letter@example.org>"),
        b"Subject: On holiday\n\nBack on Monday.",
        b"",
    ],
)
def test_what_tells_of_no_letter_of_ours_changes_nothing(sent, now, raw):
    assert bounces.take(raw=raw, at=now).letters == 0
    assert came_back() == []
    assert not BadAddress.objects.exists()


def test_a_full_mailbox_is_bad_only_the_second_time(sent, now):
    for key in ("first", "second"):
        before = BadAddress.objects.bad().exists()
        bounces.take(raw=report("sunniva@example.org", status="4.2.2", returned=mail_id(key)), at=now)

    assert not before
    assert BadAddress.objects.bad().exists()


def test_a_letter_refused_for_its_looks_comes_back_and_blames_no_address(sent, now):
    bounces.take(raw=report("sunniva@example.org", status="5.7.1"), at=now)

    assert came_back() == ["second"]
    assert not BadAddress.objects.exists()


def test_one_letter_may_tell_of_several_addresses_and_return_the_whole_letter():
    letter = EmailMessage()
    letter["Message-ID"] = "<one@example.org>"
    letter.set_content("Words.")
    whole = report("a@example.org").replace(
        b"--x--", b"--x\nContent-Type: message/rfc822\n\n" + letter.as_bytes() + b"\n--x--"
    )
    raw = whole.replace(
        b"Final-Recipient", b"Final-Recipient: rfc822; b@example.org\nAction: failed\nStatus: 5.0.0\n\nFinal-Recipient"
    )

    bounce = bounces.read(raw)

    assert [failed.addresses for failed in bounce.failed] == [("b@example.org",), ("a@example.org",)]
    assert bounce.mail_ids == {"<one@example.org>"}


@given(st.integers(0, len(OF_THE_RFC) - 1), st.binary(max_size=8))
def test_no_damage_to_a_letter_breaks_its_reader(place, swapped_in):
    raw = OF_THE_RFC[:place] + swapped_in + OF_THE_RFC[place + len(swapped_in) :]

    assert all("\x00" not in failed.words for failed in bounces.read(raw).failed)


def test_the_command_reads_one_letter_from_standard_input(sent, monkeypatch, capsys, tmp_path):
    Message.objects.update(sent_at=timezone.now())
    raw = tmp_path / "bounce"
    raw.write_bytes(report("sunniva@example.org"))

    with raw.open() as letter:
        monkeypatch.setattr(sys, "stdin", letter)
        call_command("take_bounce")

    assert "1 letter came back from sunniva@example.org." in capsys.readouterr().out
