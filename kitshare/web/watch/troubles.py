"""What is wrong behind the pages, in words, each with what to do about it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.watch import standing as facts
from kitshare.watch.models import RoundName
from kitshare.watch.standing import Standing
from kitshare.web.templatetags.kitshare import moment

LONG: Final = 160  # of a mail server's words; the letter's own page has all


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One thing that is not as it should be. What stops is loud on the first page too, the rest on this one alone."""

    tone: str
    word: str
    text: str
    todo: str
    address: str = ""
    deed: str = ""


def troubles(standing: Standing, *, is_demonstration: bool = False) -> list[Trouble]:
    """All that is wrong, the loud first."""
    found = [*_of_post(standing), *_of_clock(standing), *_of_backup(standing, is_demonstration), *_of_room(standing)]
    return sorted(found, key=lambda one: one.tone != "stop")


def ago(by: timedelta) -> str:
    """A span as people say it: "40 minutes", "3 hours", "9 days"."""
    minutes = int(by.total_seconds() // 60)
    if minutes < 1:
        return _("less than a minute")
    if minutes < 120:
        return ngettext("%(number)d minute", "%(number)d minutes", minutes) % {"number": minutes}
    if minutes < 48 * 60:
        return _("%(number)d hours") % {"number": minutes // 60}
    return _("%(number)d days") % {"number": minutes // (24 * 60)}


def _of_post(standing: Standing) -> Iterator[Trouble]:
    if standing.post_is_late:
        words = {"late": ago(standing.post.by), "why": _shortened(standing.post_error)}
        if standing.post_error:
            said = _("Post is %(late)s late because the mail server refuses it (%(why)s)") % words
            todo = _(
                "Telephone whoever must hear today. If the server's words name a password, an address or a limit,"
                " whoever runs the site can mend that; letters are tried again by themselves, less often each time."
            )
        else:
            said = _("Post is %(late)s late, and nobody has tried to send it") % words
            todo = _("What sends the letters does not run. Whoever runs the server starts it again; nothing is lost.")
        waits = ngettext("%(count)d letter waits.", "%(count)d letters wait.", standing.post.letters)
        yield Trouble(
            tone="stop",
            word=_("post"),
            text=f"{said}: {waits % {'count': standing.post.letters}}",
            todo=todo,
            address=reverse("post:list") + "?show=waiting",
            deed=_("See what waits"),
        )
    if standing.given_up:
        said = ngettext(
            "%(count)d letter could not be sent and is not tried any more.",
            "%(count)d letters could not be sent and are not tried any more.",
            standing.given_up,
        )
        yield Trouble(
            tone="stop",
            word=_("post"),
            text=said % {"count": standing.given_up},
            todo=_("Telephone those people, or mend their address and let it be tried again."),
            address=reverse("post:list") + "?show=failed",
            deed=_("See what failed"),
        )


def _shortened(words: str) -> str:
    line = " ".join(words.split())
    return line if len(line) <= LONG else line[: LONG - 1] + "…"


def _of_clock(standing: Standing) -> Iterator[Trouble]:
    """Reminders and offers go by a clock: a loop beside the web server, or a worker that a beat rings for."""
    by_worker = bool(settings.CELERY_BROKER_URL)
    start_again = (
        _("Whoever runs the server looks at the worker, the beat and Redis, and starts again what stopped.")
        if by_worker
        else _("Whoever runs the server starts the site again; what is due is then made up for by itself.")
    )
    if by_worker and (standing.beat_until is None or standing.beat_is_silent):
        yield _of_beat(standing)
        return  # what the worker does not do then, it was not rung for
    if RoundName.REMINDERS not in standing.rounds:
        yield Trouble(
            tone="stop" if standing.post_is_late else "care",
            word=_("clock"),
            text=_("The reminders' clock has not run yet. It runs once a minute when the whole site is started."),
            todo=start_again,
        )
    elif standing.stands_still(RoundName.REMINDERS):
        words = {"since": moment(standing.rounds[RoundName.REMINDERS].done_at)}
        yield Trouble(
            tone="stop",
            word=_("clock"),
            text=_("The reminders' clock has not run since %(since)s.") % words,
            todo=start_again,
        )
    if by_worker and standing.stands_still(RoundName.WORKER):
        words = {"since": moment(standing.rounds[RoundName.WORKER].done_at)}
        yield Trouble(
            tone="stop",
            word=_("worker"),
            text=_("The worker has not been seen since %(since)s.") % words,
            todo=_("Nothing is sent and no long work is done until it runs again. ") + start_again,
        )


def _of_beat(standing: Standing) -> Trouble:
    """Nothing rings: no beat was started yet, or the last one has stopped and no other took its place."""
    todo = _(
        "Whoever runs the server starts the beat, and looks why it stopped. No letter goes and no reminder is written"
        " until then; what is due is made up for by itself."
    )
    if standing.beat_until is None:
        text = _("Nothing rings yet: on a server a “beat” rings for letters, reminders and long works, each minute.")
        return Trouble(tone="stop" if standing.post_is_late else "care", word=_("clock"), text=text, todo=todo)
    words = {"since": moment(standing.beat_until)}
    text = _("Nothing rings since %(since)s: the server's “beat” was last heard shortly before.") % words
    return Trouble(tone="stop", word=_("clock"), text=text, todo=todo)


def _of_backup(standing: Standing, is_demonstration: bool) -> Iterator[Trouble]:
    age = standing.backup_age
    todo = _("Make one with the button on this page. Whoever runs the server lets a clock make one each night.")
    if age is None and not is_demonstration:
        text = _("No backup of this site is known. If the disk breaks, all is lost.")
        yield Trouble(tone="care", word=_("backup"), text=text, todo=todo)
    elif age is not None and age >= facts.BACKUP_IS_DUE_AFTER:
        tone = "stop" if age >= facts.BACKUP_IS_OLD_AFTER else "care"
        text = _("The last backup is %(age)s old. What was written since then stands in no other place.")
        yield Trouble(tone=tone, word=_("backup"), text=text % {"age": ago(age)}, todo=todo)


def _of_room(standing: Standing) -> Iterator[Trouble]:
    if standing.lacks_room:
        yield Trouble(
            tone="stop",
            word=_("room"),
            text=_("Only %(free)d MB are free where the data lie. Soon nothing can be saved.")
            % {"free": standing.free_mb},
            todo=_("Whoever runs the server makes room: old backups and logs first."),
        )
