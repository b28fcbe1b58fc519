"""The work that tries a backup: it is restored into a place of its own, looked through, and the place goes again."""

from dataclasses import asdict
from datetime import datetime
from typing import Any, Final

from django.db import connection
from django.utils import dateformat, timezone
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.keeping import facts, kept
from kitshare.keeping.places import named_after
from kitshare.keeping.reading_back import CameBack
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.rehearsing import rehearse
from kitshare.keeping.telling import THINGS
from kitshare.works.models import Work
from kitshare.works.outcomes import CannotBeDone, Outcome
from kitshare.works.progress import Clock, Progress

MINUTE: Final = 60


def try_backup(work: Work, progress: Progress, clock: Clock) -> Outcome:
    """Begun anew it begins with an empty place. A file that was sent in goes once it was tried to the end."""
    name = str(work.keys["file"])
    file = kept.find(name)
    if file is None:
        raise CannotBeDone(
            _(
                "The file is not here any more, or lies on another machine than the one that does long works. Choose "
                "another, or send it again."
            )
        )
    began, said = clock(), ""
    kept.sweep_sent(at=began, needed=[name])

    def tell(words: str, done: int, of: int) -> None:
        nonlocal said
        if words != said:
            progress.doing(f"{words}.", of=of)
            said = words
        progress.at(done)

    progress.doing(_("A place of its own is made ready."))
    try:
        back = rehearse(file=file, tell=tell, go_on=progress.check, is_sent=kept.is_sent(name))
    except KeepingRefused as refusal:
        shown = _("The file that was sent") if kept.is_sent(name) else name
        raise CannotBeDone(str(refusal).replace(str(file), shown)) from refusal
    ended = clock()
    found = _found(back, name, seconds=max(1, round((ended - began).total_seconds())))
    kept.drop_sent(name)
    return Outcome(_in_words(back, ended, took(found["seconds"])), found=found)


def _found(back: CameBack, name: str, *, seconds: int) -> dict[str, Any]:
    """All that the page of the work shows, as it was then; beside it what the site itself had."""
    told = asdict(back) | {"made_at": back.made_at.isoformat()}
    told["file"] = named_after(back.made_at) if kept.is_sent(name) else name
    return told | {"was_sent": kept.is_sent(name), "seconds": seconds, "today": rows_today()}


def rows_today() -> dict[str, int]:
    """What the running site has of what people ask of first, by table; under "photos" those that its rows name."""
    with connection.cursor() as cursor:
        counted = {}
        for table in THINGS:
            cursor.execute(f"SELECT COUNT(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608
            counted[table] = int(cursor.fetchone()[0])
    return counted | {"photos": len(facts.photos_named(connection))}


def _in_words(back: CameBack, at: datetime, lasted: str) -> str:
    words = {
        "at": _moment(at),
        "made": _moment(back.made_at),
        "back": _n(sum(back.back.values())),
        "told": _n(sum(back.told.values())),
        "photos": _n(back.photos),
        "lasted": lasted,
    }
    said = _(
        "On %(at)s the backup of %(made)s was restored in a place of its own: %(back)s of %(told)s rows and %(photos)s "
        "of %(photos)s photos came back. It took %(lasted)s."
    )
    return said % words


def took(seconds: int) -> str:
    """A span as people say it."""
    if seconds < 2 * MINUTE:
        return ngettext("%(count)d second", "%(count)d seconds", seconds) % {"count": seconds}
    minutes = round(seconds / MINUTE)
    return ngettext("%(count)d minute", "%(count)d minutes", minutes) % {"count": minutes}


def _n(number: int) -> str:
    return number_format(number, use_l10n=True, force_grouping=True)


def _moment(at: datetime) -> str:
    """As pages say it; with the year, since these words are read much later."""
    return dateformat.format(timezone.localtime(at), "D j M Y, H:i")
