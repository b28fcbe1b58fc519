"""Letters that say that a letter reached nobody: delivery status notifications (RFC 3464), as a mail server sends them.

Read by the standard library. Which letter it is about is known by its Message-ID where the notification tells it, which
only a reader of the letter can know; else by the address that it names.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from email import policy
from email.message import Message as Fields
from email.parser import BytesParser
from typing import Final

from kitshare.engine import deed
from kitshare.outbox import actions as outbox
from kitshare.outbox import returns
from kitshare.outbox.channels.mail import mail_id
from kitshare.outbox.models import Channel, Message

# Servers give up within days; what is older was about something else.
LOOKED_BACK: Final = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Failed:
    """What a notification says of one address: `status` as RFC 3463 has it, "5.1.1"; the words of the server."""

    addresses: tuple[str, ...]  # as it was written to, and as it was tried last
    status: str
    words: str

    @property
    def for_good(self) -> bool:
        return self.status.startswith("5")

    @property
    def is_of_address(self) -> bool:
        """Whether it is the address that was not taken: x.7.x is about policy (RFC 3463, 3.8)."""
        return self.status[1:4] != ".7."


@dataclass(frozen=True, slots=True)
class Bounce:
    """What one letter says: which addresses failed, and the Message-IDs that it names."""

    failed: tuple[Failed, ...]
    mail_ids: frozenset[str]


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of a bounce: the letters that came back, and the addresses that are noted."""

    letters: int
    addresses: tuple[str, ...]


def read(raw: bytes) -> Bounce:
    """Read a letter. One that reports no failure, or is no report at all, has none."""
    letter = BytesParser(policy=policy.compat32).parsebytes(raw)
    failed, mail_ids = [], set()
    for part in letter.walk():
        kind = part.get_content_type()
        if kind == "message/delivery-status":
            blocks = part.get_payload()
            failed += [found for block in blocks if isinstance(block, Fields) if (found := _failed(block))]
            mail_ids |= {str(block["Original-Message-ID"]) for block in blocks if isinstance(block, Fields)}
        elif kind in {"message/rfc822", "text/rfc822-headers", "message/global", "message/global-headers"}:
            mail_ids |= set(_mail_ids_of_returned(part))
    return Bounce(tuple(failed), frozenset(one.strip() for one in mail_ids if one.strip().startswith("<")))


def _failed(block: Fields) -> Failed | None:
    """One recipient's fields, if delivery to it failed: "delayed", "delivered", "relayed", "expanded" are none."""
    if str(block["Action"] or "").strip().lower() != "failed":
        return None
    addresses = [_address(block[name]) for name in ("Original-Recipient", "Final-Recipient")]
    status = str(block["Status"] or "").strip()
    said = _after_type(block["Diagnostic-Code"])
    return Failed(tuple(dict.fromkeys(filter(None, addresses))), status, " ".join(f"{status} {said}".split()))


def _address(value: object) -> str:
    """The address of "rfc822;somebody@example.org", in small letters."""
    return _after_type(value).strip("<>").lower()


def _after_type(value: object) -> str:
    """What stands behind the type of a field: "smtp; 550 no such mailbox"."""
    before, semicolon, after = str(value or "").partition(";")
    return " ".join((after if semicolon else before).replace("\x00", " ").split())


def _mail_ids_of_returned(part: Fields) -> Iterator[str]:
    inner = part.get_payload(0) if part.is_multipart() else None
    if isinstance(inner, Fields):
        yield str(inner["Message-ID"] or "")
        return
    raw = part.get_payload(decode=True)
    if isinstance(raw, bytes):
        yield str(BytesParser(policy=policy.compat32).parsebytes(raw, headersonly=True)["Message-ID"] or "")


@deed
def take(*, raw: bytes, at: datetime) -> Taken:
    """Note what came back: on the letter, on its address, on the list of calls. The same bounce twice counts once."""
    bounce = read(raw)
    letters, noted = 0, []
    for failed in bounce.failed:
        letter = _letter_of(failed, bounce.mail_ids, at=at)
        if letter is None or letter.came_back_at is not None:
            continue
        Message.objects.filter(pk=letter.pk).update(came_back_at=at, last_error=failed.words[:1000])
        if failed.is_of_address:
            returns.note_refused(
                address=letter.to_address, words=failed.words, for_good=failed.for_good, at=at, returned=True
            )
        outbox.call_about(message=letter, at=at)
        letters += 1
        noted.append(letter.to_address)
    return Taken(letters, tuple(noted))


def _letter_of(failed: Failed, mail_ids: frozenset[str], *, at: datetime) -> Message | None:
    """The letter that came back: by its Message-ID, else the newest that went to that address."""
    sent = Message.objects.delivered().filter(channel=Channel.MAIL, sent_at__gt=at - LOOKED_BACK)
    own = {_own_part(one) for one in mail_ids}
    for pk, key in sent.values_list("pk", "key") if own else ():
        if _own_part(mail_id(key)) in own:
            return Message.objects.select_for_update().get(pk=pk)
    if mail_ids:
        return None
    for address in failed.addresses:
        if letter := sent.filter(to_address__iexact=address).order_by("-sent_at", "-pk").first():
            return letter
    return None


def _own_part(mail_id: str) -> str:
    """A Message-ID without its domain, which goes by a setting."""
    return mail_id.partition("@")[0]
