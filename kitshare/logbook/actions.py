"""Writing the logbook: every action calls `write` in its own transaction. And asking it what happened meanwhile."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final, Protocol

from django.db import models
from django.utils.translation import gettext as _

from kitshare.logbook.models import Entry, Mention

MOST_SAID: Final = 10  # what came before those is on the thing's own page


class Somebody(Protocol):
    """Whoever did it: a member, as far as the logbook needs to know one."""

    pk: int
    name: str


class ChangedMeanwhile(Exception):
    """Somebody changed a thing after its form was opened. `changes` says who did what, oldest first."""

    def __init__(self, *, changes: Sequence[str], seen: int) -> None:
        self.changes = list(changes)
        self.seen = seen
        first = _("This was changed after you opened it.")
        last = _("What you typed is still here and is not saved. If it should stand, send it again.")
        self.sentences = [first, *self.changes, last]
        super().__init__(" ".join(self.sentences))


def newest_line(thing: models.Model) -> int:
    """How far a thing's history has come: a form carries it along, so that its action can tell what came after."""
    return Entry.objects.about(thing).order_by().aggregate(newest=models.Max("pk"))["newest"] or 0


def check_unchanged(thing: models.Model, *, seen: int | None, by_deeds: Sequence[str]) -> None:
    """Raise ChangedMeanwhile where one of those deeds was done to a thing after the line that was seen.

    The thing's row is locked by then, so that its lines stand in the order of their keys. With nothing seen there is no
    form that could be out of date.
    """
    if seen is None:
        return
    later = list(Entry.objects.about(thing).filter(pk__gt=seen, deed__in=by_deeds)[:MOST_SAID])
    if later:
        said = [f"{entry.by_name}: {entry.text}" for entry in reversed(later)]
        raise ChangedMeanwhile(changes=said, seen=newest_line(thing))


def write(*, deed: str, text: str, about: Sequence[models.Model], by: Somebody | None, at: datetime) -> Entry:
    """Add one line about some things. With nobody given, the site itself did it."""
    entry = Entry(at=at, by_key=by.pk if by else None, by_name=by.name if by else "Kitshare", deed=deed, text=text)
    entry.save()
    things = {(thing._meta.label_lower, thing.pk) for thing in about}
    Mention.objects.bulk_create(Mention(entry=entry, kind=kind, key=key) for kind, key in sorted(things))
    return entry
