"""How members choose to be told: by single letters or once a day, at which hours, and whether they are reminded."""

from datetime import datetime, time

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.outbox import digests
from kitshare.people.changes import change, in_words
from kitshare.people.models import Member
from kitshare.people.refusals import PeopleRefused
from kitshare.rules.hearing import covers, when_to_tell


class QuietHoursUnclear(PeopleRefused):
    """Quiet hours need a beginning and another end."""

    def __init__(self, field: str) -> None:
        super().__init__(
            _("Quiet hours have a beginning and an end, at two different times. Leave both empty for none.")
        )
        self.field = field


class DigestInQuietHours(PeopleRefused):
    """The letter of the day would come when nothing may."""

    field = "digest_at"

    def __init__(self) -> None:
        super().__init__(_("This hour is within the quiet hours. Choose another hour for the daily letter."))


def check_hours(*, digest_at: time | None, quiet_from: time | None, quiet_until: time | None) -> None:
    """Raise where the hours chosen cannot be meant together."""
    if (quiet_from is None) != (quiet_until is None):
        raise QuietHoursUnclear("quiet_from" if quiet_from is None else "quiet_until")
    if quiet_from is None or quiet_until is None:
        return
    if quiet_from == quiet_until:
        raise QuietHoursUnclear("quiet_until")
    if digest_at is not None and covers(quiet_from, quiet_until, digest_at):
        raise DigestInQuietHours


@deed
def choose_hearing(
    *,
    member: Member,
    digest_at: time | None,
    quiet_from: time | None,
    quiet_until: time | None,
    wants_reminders: bool,
    language: str = "",
    by: Member,
    at: datetime,
    seen: int | None = None,
) -> Member:
    """Choose how a member is told. What waits for their digest follows at once."""
    check_hours(digest_at=digest_at, quiet_from=quiet_from, quiet_until=quiet_until)
    member = Member.objects.select_for_update().get(pk=member.pk)
    changes = change(
        member,
        digest_at=digest_at,
        quiet_from=quiet_from,
        quiet_until=quiet_until,
        wants_reminders=wants_reminders,
        language=language,
    )
    if not changes:
        return member
    logbook.check_unchanged(member, seen=seen, by_deeds=["hearing_chosen"])
    member.save(update_fields=list(changes))
    if not wants_reminders:
        digests.drop_reminders(member_key=member.pk)
    digests.let_go(member_key=member.pk, telling=when_to_tell(member.wishes(), at=at))
    words = {"name": member.name, "changes": in_words(member, changes)}
    text = _("Changed how %(name)s is told: %(changes)s.") % words
    logbook.write(deed="hearing_chosen", text=text, about=[member], by=by, at=at)
    return member


@deed
def stop_reminders(*, member: Member, at: datetime) -> bool:
    """A member asks for no more reminders, by the way out that stands in each; whether they had any."""
    member = Member.objects.select_for_update().get(pk=member.pk)
    if not member.wants_reminders:
        return False
    choose_hearing(
        member=member,
        digest_at=member.digest_at,
        quiet_from=member.quiet_from,
        quiet_until=member.quiet_until,
        wants_reminders=False,
        language=member.language,
        by=member,
        at=at,
    )
    return True
