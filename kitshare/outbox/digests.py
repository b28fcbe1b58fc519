"""The letter of the day: one message that gathers what waited for it.

Making it and marking what it holds is one transaction, so that a process that dies leaves all of them waiting or all of
them gathered. From then on it is a message like any other: claimed, sent, tried again.
"""

from collections.abc import Sequence
from datetime import date, datetime

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import ngettext

from kitshare.engine import deed
from kitshare.outbox.channels.mail import as_html
from kitshare.outbox.models import Channel, Message
from kitshare.outbox.speaking import language_of
from kitshare.rules.hearing import Telling


def gather_all(*, at: datetime) -> int:
    """Make every digest whose hour has come; how many those are."""
    due = Message.objects.for_digest().filter(due_at__lte=at).values_list("member_key", flat=True)
    members = sorted({one for one in due if one is not None})
    return sum(_gather(member_key=member, at=at) is not None for member in members)


@deed
def _gather(*, member_key: int, at: datetime) -> Message | None:
    """One member's digest; None where another round was quicker, or today's has gone already.

    What came a moment too late for a digest that is made goes by itself: nothing waits for a second one of a day.
    """
    waiting = Message.objects.for_digest().filter(member_key=member_key, due_at__lte=at)
    letters = list(waiting.select_for_update().order_by("queued_at", "pk"))
    if not letters:
        return None
    day = max(letter.digest_on for letter in letters if letter.digest_on)
    with translation.override(language_of(letters[-1].language)):
        words = _words(letters, day)
    last = letters[-1]
    facts = {
        "channel": Channel.MAIL,
        "to_name": last.to_name,
        "to_address": last.to_address,
        "to_telephone": last.to_telephone,
        "language": last.language,
        # Where it holds nothing but reminders, it can be stopped like one.
        "kind": "digest" if all(letter.kind for letter in letters) else "",
        "queued_at": at,
        "due_at": at,
    }
    digest, is_new = Message.objects.get_or_create(
        member_key=member_key,
        digest_on=day,
        is_digest=True,
        defaults=facts | words | {"key": f"digest:{member_key}:{day}"},
    )
    gathered = Message.objects.filter(pk__in=[letter.pk for letter in letters])
    gathered.update(**({"gathered_in": digest} if is_new else {"digest_on": None}))
    return digest if is_new else None


def _words(letters: Sequence[Message], day: date) -> dict[str, str]:
    """The words of a digest. One of a single letter is that letter."""
    if len(letters) == 1:
        return {name: getattr(letters[0], name) for name in ("subject", "body", "html", "thread")}
    said = ngettext("%(count)d message: %(first)s", "%(count)d messages: %(first)s and more", len(letters))
    subject = said % {"count": len(letters), "first": letters[0].subject}
    body = render_to_string("post/letters/digest.txt", {"letters": letters, "day": day})
    html = as_html(subject, [(letter.subject, letter.body) for letter in letters])
    return {"subject": subject[:200], "body": body.strip() + "\n", "html": html}


@deed
def let_go(*, member_key: int, telling: Telling) -> int:
    """Give what waits for a member's digest another hour, or send each by itself since there is to be none."""
    waiting = Message.objects.for_digest().filter(member_key=member_key)
    return waiting.update(digest_on=telling.digest_on, due_at=telling.due_at)


@deed
def drop_reminders(*, member_key: int) -> int:
    """Keep back the reminders that wait for a member who wants none any more; what is about safety goes."""
    waiting = Message.objects.on_their_way().filter(member_key=member_key, is_safety=False, claimed_until=None)
    return waiting.exclude(kind="").update(channel=Channel.UNWANTED)
