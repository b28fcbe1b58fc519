"""Writing the logbook: every action calls `write` in its own transaction."""

from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

from django.db import models

from kitshare.logbook.models import Entry, Mention


class Somebody(Protocol):
    """Whoever did it: a member, as far as the logbook needs to know one."""

    pk: int
    name: str


def write(*, deed: str, text: str, about: Sequence[models.Model], by: Somebody | None, at: datetime) -> Entry:
    """Add one line about some things. With nobody given, the site itself did it."""
    entry = Entry(at=at, by_key=by.pk if by else None, by_name=by.name if by else "Kitshare", deed=deed, text=text)
    entry.save()
    things = {(thing._meta.label_lower, thing.pk) for thing in about}
    Mention.objects.bulk_create(Mention(entry=entry, kind=kind, key=key) for kind, key in sorted(things))
    return entry
