"""The way out of reminders that stands in each of them: one click, without signing in (RFC 8058).

The address holds a signed word for one member, and nothing else can be done with it. It is the same at every try.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from django.conf import settings
from django.core import signing
from django.urls import reverse
from django.utils.translation import gettext_lazy

from kitshare.outbox.models import Message

WORDS: Final = gettext_lazy("To get no more reminders:")
SALT: Final = "kitshare.outbox.stopping"
# Common practice, no source: long enough for a letter that is read next season.
GOOD_FOR: Final = timedelta(days=400)


class TokenUnfit(Exception):
    """The address was cut short or changed on its way."""


class TokenTooOld(Exception):
    """The letter is older than such an address is good for."""


@dataclass(frozen=True, slots=True)
class Stop:
    """What a token says: who asks for no more reminders, by a letter of which day."""

    member_key: int
    written_on: date


def address_for(message: Message) -> str:
    """Where one click stops the reminders; nothing for what cannot be switched off."""
    if not message.kind or message.is_safety or message.member_key is None:
        return ""
    token = token_for(member_key=message.member_key, written_on=message.queued_at.date())
    return settings.SITE_ADDRESS.rstrip("/") + reverse("post:stop_reminders", args=[token])


def headers(address: str) -> dict[str, str]:
    """The one-click header asks for https (RFC 8058, section 3.1); without it the plain one (RFC 2369) stands alone."""
    plain = {"List-Unsubscribe": f"<{address}>"}
    return plain | ({"List-Unsubscribe-Post": "List-Unsubscribe=One-Click"} if address.startswith("https://") else {})


def token_for(*, member_key: int, written_on: date) -> str:
    signed: str = signing.Signer(salt=SALT).sign_object([member_key, written_on.isoformat()])
    return signed.replace(":", "~")  # a colon in an address is one more thing that a mail program may change


def read_token(token: str, *, today: date) -> Stop:
    """What a token says. Raises TokenUnfit or TokenTooOld."""
    try:
        member_key, written_on = signing.Signer(salt=SALT).unsign_object(token.replace("~", ":"))
        stop = Stop(int(member_key), date.fromisoformat(written_on))
    except (signing.BadSignature, ValueError, TypeError) as error:
        raise TokenUnfit from error
    if today > stop.written_on + GOOD_FOR:
        raise TokenTooOld
    return stop
