"""How the site stands behind its pages: facts, from which pages make words and programs make figures."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings

from kitshare.keeping.record import last_backup
from kitshare.outbox.models import Message
from kitshare.watch.late_post import LatePost, late_post
from kitshare.watch.models import Round, RoundName

# Rounds come each minute: one that is so late does not come by itself.
CLOCK_STANDS_AFTER: Final = timedelta(minutes=5)
POST_IS_LATE_AFTER: Final = timedelta(minutes=15)
# A backup a day is common practice, no source; a week without one is a week of work that can be lost.
BACKUP_IS_DUE_AFTER: Final = timedelta(days=2)
BACKUP_IS_OLD_AFTER: Final = timedelta(days=8)
LEAST_ROOM_MB: Final = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is known at one moment, in three queries."""

    at: datetime
    post: LatePost
    post_error: str
    given_up: int
    rounds: dict[str, Round]
    backup_at: datetime | None
    free_mb: int | None

    @property
    def post_is_late(self) -> bool:
        return self.post.letters > 0 and self.post.by >= POST_IS_LATE_AFTER

    def stands_still(self, name: str) -> bool:
        """A work that was done once and is not done any more."""
        last = self.rounds.get(name)
        return last is not None and self.at - last.done_at >= CLOCK_STANDS_AFTER

    @property
    def backup_age(self) -> timedelta | None:
        return None if self.backup_at is None else self.at - self.backup_at

    @property
    def lacks_room(self) -> bool:
        return self.free_mb is not None and self.free_mb < LEAST_ROOM_MB


def standing(at: datetime) -> Standing:
    post = late_post(at)
    backup = last_backup()
    return Standing(
        at=at,
        post=post,
        post_error=_last_error() if post.letters else "",
        given_up=Message.objects.given_up().count(),
        rounds={one.name: one for one in Round.objects.filter(name__in=RoundName.values)},
        backup_at=backup.made_at if backup else None,
        free_mb=free_megabytes(),
    )


def _last_error() -> str:
    """What the mail server said of the letter that has waited longest."""
    refused = Message.objects.on_their_way().exclude(last_error="").order_by("queued_at", "pk")
    return refused.values_list("last_error", flat=True).first() or ""


def free_megabytes() -> int | None:
    """What is free where the data lie; nothing where there is no such folder."""
    folder = next((place for place in (settings.DATA, *Path(settings.DATA).parents) if place.exists()), None)
    return shutil.disk_usage(folder).free // 1_000_000 if folder else None
