"""What each kind of long work does. Each may be begun anew after any interruption, and makes nothing twice."""

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import connection
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Season
from kitshare.bringing import actions as bringing
from kitshare.bringing import copies
from kitshare.bringing.models import BroughtFile
from kitshare.bringing.naming import Names
from kitshare.bringing.refusals import BringingRefused
from kitshare.bringing.steps import counted
from kitshare.engine import one_writes_at_a_time, readers_go_on
from kitshare.keeping import postgresql
from kitshare.keeping.making import make_backup
from kitshare.keeping.refusals import MISHAPS, KeepingRefused, in_words
from kitshare.people.models import Scheme
from kitshare.pressdays import season_copy
from kitshare.pressdays.season_figures import figures_of, outings_of
from kitshare.works.actions import Made
from kitshare.works.models import Kind, Work
from kitshare.works.outcomes import CannotBeDone, Outcome
from kitshare.works.progress import Clock, Progress
from kitshare.works.trying import try_backup


def bring_in(work: Work, progress: Progress, clock: Clock) -> Outcome:
    """Make the bookings of a file. It is judged before anybody has to wait, and once more when nobody else writes."""
    brought = BroughtFile.objects.filter(pk=work.keys["brought"]).first()
    if brought is None:
        raise CannotBeDone(_("The file is not here any more. Send it again."))
    scheme, today = _here(clock)
    rows = len(brought.rows)
    progress.doing(_("Each row is looked at."), of=rows)
    judged = bringing.look(brought, scheme=scheme, today=today, step=progress.at)
    if judged.to_make:  # else a worker before this one made them, and was killed before it could say so
        _say_what_is_written(progress, len(judged.to_make))
    try:
        with readers_go_on():
            kept = bringing.bring_in(
                brought=brought, by=work.asked_by, at=clock(), today=today, looked_over=judged, step=progress.at
            )
    except BringingRefused as refusal:
        raise CannotBeDone(str(refusal)) from refusal
    count = kept.bookings.count()
    said = ngettext("%(count)s booking was made.", "%(count)s bookings were made.", count)
    return Outcome(said % {"count": _n(count)})


def _say_what_is_written(progress: Progress, count: int) -> None:
    """Where one writes at a time nothing can be said meanwhile: words stand in the place of a bar that stood still."""
    if one_writes_at_a_time():
        said = ngettext(
            "%(count)s booking is written now, wholly or not at all. Nobody else can write until it is over.",
            "%(count)s bookings are written now, all of them or none. Nobody else can write until it is over.",
            count,
        )
        progress.doing(said % {"count": _n(count)})
        return
    said = ngettext(
        "%(count)s booking is written, wholly or not at all.",
        "%(count)s bookings are written, all of them or none.",
        count,
    )
    progress.doing(said % {"count": _n(count)}, of=count)


def copy(work: Work, progress: Progress, clock: Clock) -> Outcome:
    """A file with the bookings of a season, or with all there are."""
    scheme, today = _here(clock)
    season = Season.objects.filter(pk=work.keys["season"]).first() if work.keys["season"] else None
    if season is None and work.keys["season"]:
        raise CannotBeDone(_("The season is not here any more."))
    kind = str(work.keys["kind"])
    bookings = copies.to_copy(season)
    total = bookings.count()
    progress.doing(_("The bookings are written into the file."), of=total)
    data = copies.WRITERS[kind](counted(bookings, progress.at), Names())
    made = Made(copies.file_name(season, scheme, today, kind), copies.KINDS[kind], data)
    words = ngettext("The file has %(count)s booking.", "The file has %(count)s bookings.", total) % {
        "count": _n(total)
    }
    return Outcome(words, made)


def season_in_figures(work: Work, progress: Progress, clock: Clock) -> Outcome:
    """A file with what a season came to, for each village and each kit."""
    season = Season.objects.filter(pk=work.keys["season"]).first()
    if season is None:
        raise CannotBeDone(_("The season is not here any more."))
    progress.doing(_("The outings of the season are added up."), of=outings_of(season).count())
    [figures] = figures_of([season], progress.at)
    made = Made(season_copy.file_name(season), season_copy.CONTENT_TYPE, season_copy.as_csv(figures))
    total = figures.all.outings
    said = ngettext("The file adds up %(count)s outing.", "The file adds up %(count)s outings.", total)
    return Outcome(said % {"count": _n(total)}, made)


def back_up(work: Work, progress: Progress, clock: Clock) -> Outcome:
    """One backup into the usual folder on the server. Begun anew after an interruption it makes another, whole one."""
    progress.doing(_("The database and all photos are written into one file, and read back."))
    folder = Path(settings.DATA) / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    try:
        # Where PostgreSQL's own program is missing, as in our image: rows as SQLite, which either engine takes.
        portable = connection.vendor == "postgresql" and not postgresql.may_dump(connection)
        made = make_backup(to=folder.absolute(), at=clock(), clock=clock, portable=portable)
    except KeepingRefused as refusal:
        raise CannotBeDone(str(refusal)) from refusal
    except MISHAPS as mishap:
        raise CannotBeDone(str(in_words(mishap, folder))) from mishap
    words = {"name": Path(made.place).name, "size": f"{made.size_bytes / 1e6:.1f}"}
    said = _("%(name)s, %(size)s MB, is in the folder “backups” of the site's data on the server, and was read back.")
    return Outcome(said % words)


DOERS: Final[Mapping[str, Callable[[Work, Progress, Clock], Outcome]]] = {
    Kind.BRING_IN: bring_in,
    Kind.COPY: copy,
    Kind.FIGURES: season_in_figures,
    Kind.BACKUP: back_up,
    Kind.REHEARSAL: try_backup,
}


def _here(clock: Clock) -> tuple[Scheme, date]:
    """The scheme, and the day that it is there."""
    scheme = Scheme.objects.current() or Scheme()
    return scheme, clock().astimezone(scheme.zone).date()


def _n(number: int) -> str:
    return number_format(number, use_l10n=True, force_grouping=True)
