"""What a coordinator does about messages: tell by telephone, take that back, and have letters sent again."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Final

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.outbox.models import BadAddress, Channel, Message

# A tick on the wrong line is seen soon or never.
UNDONE_WITHIN: Final = timedelta(hours=1)


class AlreadyTold(Exception):
    """The message was delivered meanwhile; there is nothing left to do about it."""

    def __init__(self, message: Message) -> None:
        super().__init__(_("%(name)s was told already.") % {"name": message.to_name})
        self.message = message


class NotToUndo(Exception):
    """Nobody ticked it, or too long ago."""

    def __init__(self) -> None:
        super().__init__(_("This can no longer be taken back: the tick is more than an hour old, or gone already."))


@deed
def mark_told(*, message: Message, by: logbook.Somebody, at: datetime) -> Message:
    """Note that somebody was told by telephone."""
    done = Message.objects.waiting().filter(pk=message.pk).update(sent_at=at, told_by_name=by.name)
    if not done:
        raise AlreadyTold(message)
    text = _("Told %(name)s by telephone: %(subject)s") % {"name": message.to_name, "subject": message.subject}
    logbook.write(deed="told_by_telephone", text=text, about=[message], by=by, at=at)
    message.refresh_from_db()
    return message


def may_undo(message: Message, *, at: datetime) -> bool:
    """Whether a tick is fresh enough to be taken back."""
    return bool(message.told_by_name and message.sent_at and message.sent_at >= at - UNDONE_WITHIN)


@deed
def undo_told(*, message: Message, by: logbook.Somebody, at: datetime) -> Message:
    """Take the tick back: nobody was told after all."""
    ticked = Message.objects.filter(pk=message.pk, sent_at__gte=at - UNDONE_WITHIN).exclude(told_by_name="")
    if not ticked.update(sent_at=None, told_by_name=""):
        raise NotToUndo
    text = _("Not told after all: %(name)s, %(subject)s") % {"name": message.to_name, "subject": message.subject}
    logbook.write(deed="telling_undone", text=text, about=[message], by=by, at=at)
    message.refresh_from_db()
    return message


@deed
def try_again(*, message: Message, by: logbook.Somebody, at: datetime) -> Message:
    """Let the next round send a letter that was given up or came back, or for which the sender was still pausing."""
    letter = Message.objects.waiting() | Message.objects.dead()
    if not _send_anew(letter.filter(pk=message.pk, channel=Channel.MAIL).values_list("pk", flat=True), at=at):
        raise AlreadyTold(message)
    text = _("Asked to send again to %(name)s: %(subject)s") % {"name": message.to_name, "subject": message.subject}
    logbook.write(deed="message_tried_again", text=text, about=[message], by=by, at=at)
    message.refresh_from_db()
    return message


@deed
def try_dead_again(*, chosen: Collection[int] | None, by: logbook.Somebody, at: datetime) -> int:
    """Let the next round send dead letters again: those chosen, or with None all of them; how many those are."""
    dead = Message.objects.dead()
    letters = list((dead if chosen is None else dead.filter(pk__in=chosen)).order_by("pk"))
    if not letters:
        return 0
    count = _send_anew([letter.pk for letter in letters], at=at)
    text = ngettext("Asked to send %(count)d letter again.", "Asked to send %(count)d letters again.", count)
    logbook.write(deed="message_tried_again", text=text % {"count": count}, about=letters, by=by, at=at)
    return count


def _send_anew(keys: Collection[int], *, at: datetime) -> int:
    return Message.objects.filter(pk__in=keys).update(
        attempts=0, unknown_ends=0, due_at=at, claimed_until=None, sent_at=None, came_back_at=None, kept_here=False
    )


@deed
def trust_address(*, address: str, of: models.Model, by: logbook.Somebody, at: datetime) -> None:
    """Forget that post came back from somebody's address, since they say that it works again."""
    if not BadAddress.objects.of(address).delete()[0]:
        return
    text = _("Said that the address of %(name)s works again.") % {"name": of}
    logbook.write(deed="address_trusted", text=text, about=[of], by=by, at=at)
