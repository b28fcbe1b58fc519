"""The list of messages, and the word for how each of them stands."""

from typing import Any, NamedTuple

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from kitshare.outbox.models import Channel, Message


class Standing(NamedTuple):
    """How a message stands: the word, and the colour that only helps the word."""

    word: str | Promise
    colour: str


def standing_of(message: Message) -> Standing:
    if message.channel == Channel.UNWANTED:
        return Standing(_("not sent: wants no reminders"), "quiet")
    if message.gathered_in_id:
        return Standing(_("in a daily letter"), "quiet")
    if message.came_back_at:
        return Standing(_("came back"), "stop")
    if message.told_by_name:
        return Standing(_("told by telephone"), "done")
    if message.sent_at:
        return Standing(_("kept here"), "quiet") if message.kept_here else Standing(_("sent"), "done")
    if message.channel == Channel.TELEPHONE:
        return Standing(_("to telephone"), "care")
    if message.is_given_up:
        return Standing(_("failed"), "stop")
    if message.last_error:
        return Standing(_("will be tried again"), "care")
    if message.waits_for_digest:
        return Standing(_("waits for the daily letter"), "plum")
    return Standing(_("on its way"), "plum")


class PostTable(tables.Table):
    """One row a message; the subject leads to its page."""

    subject = tables.TemplateColumn(
        template_name="post/cells/subject.html", verbose_name=_("Subject"), order_by=("subject", "pk")
    )
    to_name = tables.TemplateColumn(
        template_name="post/cells/to.html", verbose_name=_("To"), order_by=("to_name", "-queued_at")
    )
    queued_at = tables.TemplateColumn(
        template_name="post/cells/queued.html", verbose_name=_("Written"), order_by=("queued_at", "pk")
    )
    standing = tables.Column(verbose_name=_("How it stands"), empty_values=(), orderable=False)

    class Meta:
        order_by = "-queued_at"

    def render_standing(self, record: Message, **_unused: Any) -> SafeString:
        return render_to_string("post/cells/standing.html", {"standing": standing_of(record)})
