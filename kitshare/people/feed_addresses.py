"""The addresses of calendars. Whoever knows one can read it, so one that has gone astray is changed or taken away."""

from datetime import datetime

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import FeedOwner, Member, new_feed_token


@deed
def renew_feed_token(*, of: FeedOwner, by: Member, at: datetime) -> str:
    """Give a calendar a new address, or one again; whoever has the old one sees nothing more."""
    token = new_feed_token()
    of.feed_token = token
    of.save(update_fields=["feed_token"])
    text = _("Renewed the calendar address of %(name)s.") % {"name": of}
    logbook.write(deed="feed_renewed", text=text, about=[of], by=by, at=at)
    return token


@deed
def revoke_feed_token(*, of: FeedOwner, by: Member, at: datetime) -> None:
    """Take a calendar's address away: nobody can fetch it until it gets another."""
    if of.feed_token is None:
        return
    of.feed_token = None
    of.save(update_fields=["feed_token"])
    text = _("Took away the calendar address of %(name)s.") % {"name": of}
    logbook.write(deed="feed_revoked", text=text, about=[of], by=by, at=at)
