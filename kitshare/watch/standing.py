"""How the site stands behind its pages: facts, from which pages make words and programs make figures."""

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db.models import Value

from kitshare.keeping.record import last_backup
from kitshare.outbox.models import Message
from kitshare.serving.models import RINGING, Lease
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
    """What is known at one moment, in three queries. `beat_until`: the end of the last lease of a beat."""

    at: datetime
    post: LatePost
    post_error: str
    given_up: int
    rounds: dict[str, Round]
    beat_until: datetime | None
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
    def beat_is_silent(self) -> bool:
        """Whether a beat rang once and none does now: its lease is over, and for as long again no other took it."""
        return self.beat_until is not None and self.at - self.beat_until > lease_of_a_beat()

    @property
    def beat_heard_at(self) -> datetime | None:
        """When a beat last said that it rings; of one that was stopped in order a little before it was."""
        return None if self.beat_until is None else min(self.at, self.beat_until - lease_of_a_beat())

    @property
    def backup_age(self) -> timedelta | None:
        return None if self.backup_at is None else self.at - self.backup_at

    @property
    def lacks_room(self) -> bool:
        return self.free_mb is not None and self.free_mb < LEAST_ROOM_MB


def standing(at: datetime) -> Standing:
    post = late_post(at)
    backup = last_backup()
    rounds, beat_until = last_rounds()
    return Standing(
        at=at,
        post=post,
        post_error=_last_error() if post.letters else "",
        given_up=Message.objects.given_up().count(),
        rounds=rounds,
        beat_until=beat_until,
        backup_at=backup.made_at if backup else None,
        free_mb=free_megabytes(),
    )


def last_rounds() -> tuple[dict[str, Round], datetime | None]:
    """The last round of each work, and until when the last beat was to ring: the first page asks, so in one query."""
    rounds = Round.objects.filter(name__in=RoundName.values).values_list("name", "done_at", "seconds")
    ringing = Lease.objects.filter(work=RINGING).values_list("work", "until", Value(0.0))
    found = {name: Round(name=name, done_at=at, seconds=seconds) for name, at, seconds in rounds.union(ringing)}
    beat = found.pop(RINGING, None)
    return found, beat.done_at if beat else None


def lease_of_a_beat() -> timedelta:
    return timedelta(seconds=settings.BEAT_LEASE_SECONDS)


def _last_error() -> str:
    """What the mail server said of the letter that has waited longest."""
    refused = Message.objects.on_their_way().exclude(last_error="").order_by("queued_at", "pk")
    return refused.values_list("last_error", flat=True).first() or ""


def free_megabytes() -> int | None:
    """What is free where the data lie; nothing where there is no such folder."""
    folder = next((place for place in (settings.DATA, *Path(settings.DATA).parents) if place.exists()), None)
    return shutil.disk_usage(folder).free // 1_000_000 if folder else None
