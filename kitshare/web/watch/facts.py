"""What is known of the site, line by line: the quiet part of its page."""

from collections.abc import Iterator

from django.conf import settings
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.watch.models import RoundName
from kitshare.watch.standing import Standing
from kitshare.web.templatetags.kitshare import moment
from kitshare.web.watch.troubles import ago


def facts_of(standing: Standing) -> list[tuple[str, str]]:
    return list(_lines(standing))


def _lines(standing: Standing) -> Iterator[tuple[str, str]]:
    yield _("Post"), _post(standing)
    yield _("What rings"), _what_rings(standing)
    yield _("Reminders last written"), _last(standing, RoundName.REMINDERS)
    if settings.CELERY_BROKER_URL:
        yield _("Worker last seen"), _last(standing, RoundName.WORKER)
    yield _("Last backup"), _backup(standing)
    if standing.free_mb is not None:
        yield _("Free on the disk"), _("%(free)s MB") % {"free": number_format(standing.free_mb, force_grouping=True)}


def _backup(standing: Standing) -> str:
    age = standing.backup_age
    if age is None:
        return _("none known")
    return _("%(at)s (%(age)s ago)") % {"at": moment(standing.backup_at), "age": ago(age)}


def _post(standing: Standing) -> str:
    if not standing.post.letters:
        return _("nothing waits")
    waits = ngettext("%(count)d letter waits", "%(count)d letters wait", standing.post.letters)
    words = {"count": standing.post.letters, "late": ago(standing.post.by)}
    return f"{waits % words}, " + _("%(late)s late") % words


def _last(standing: Standing, name: str) -> str:
    last = standing.rounds.get(name)
    return moment(last.done_at) if last else _("never yet")


def _what_rings(standing: Standing) -> str:
    """A beat on a server, else the loop beside the web server."""
    if settings.CELERY_BROKER_URL:
        name, heard_at, is_silent = _("the beat"), standing.beat_heard_at, standing.beat_is_silent
    else:
        last = standing.rounds.get(RoundName.REMINDERS)
        name, heard_at = _("the site's own loop"), last.done_at if last else None
        is_silent = standing.stands_still(RoundName.REMINDERS)
    words = {"name": name, "when": moment(heard_at) if heard_at else ""}
    if heard_at is None:
        return _("nothing yet; it would be %(name)s") % words
    if is_silent:
        return _("nothing: %(name)s rang last on %(when)s") % words
    return _("%(name)s, last heard on %(when)s") % words
