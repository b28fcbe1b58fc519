"""Asking for a long work, taking it up, saying how far it is, and ending it: each by an update that decides by itself.

Whoever takes a work up gets the number of the try; what a worker says under an older number changes nothing, so that
one which was thought dead cannot write into what another does now.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.keeping.kept import sweep_sent
from kitshare.people.models import Member
from kitshare.works.models import LEASE, TRIES, State, Work, WorkFile


@dataclass(frozen=True, slots=True)
class Made:
    """A file that a work made."""

    name: str
    content_type: str
    data: bytes


@deed
def ask(*, kind: str, about: str, keys: dict[str, Any], title: str, by: Member, at: datetime) -> Work:
    """Have a long work done. While the same is under way, that one is meant."""
    work = Work(kind=kind, about=f"{kind}:{about}"[:120], keys=keys, title=title[:200], asked_by=by, asked_at=at)
    try:
        with transaction.atomic():
            work.save(force_insert=True)
    except IntegrityError:
        return Work.objects.open().get(about=work.about)
    return work


@deed
def take_up(*, work: Work, at: datetime) -> Work | None:
    """Take a work in hand, unless another was quicker; one that was begun too often is given up."""
    mine = Work.objects.to_take_up(at).filter(pk=work.pk)
    if mine.filter(cancel_asked_at__isnull=False).update(
        state=State.CANCELLED, ended_at=at, words=_("It was left off before it was done. Nothing was made.")
    ):
        return None
    if mine.filter(tries__gte=TRIES).update(
        state=State.FAILED, ended_at=at, words=_("Whoever did this work was stopped three times while doing it.")
    ):
        return None
    begun = mine.update(
        state=State.RUNNING, lease_until=at + LEASE, tries=F("tries") + 1, done=0, total=0, words=_("Begun.")
    )
    return Work.objects.get(pk=work.pk) if begun else None


@deed
def note_progress(*, work: Work, done: int, total: int, words: str, at: datetime) -> bool:
    """Say how far it is, and that somebody still does it. Whether to go on: nobody cancelled it or took it over."""
    facts = {"done": done, "total": total, "words": words, "lease_until": at + LEASE}
    return bool(_mine(work).filter(cancel_asked_at=None).update(**facts))


@deed
def finish(*, work: Work, words: str, made: Made | None, at: datetime, found: dict[str, Any] | None = None) -> None:
    """It is done. A file takes the place of one that a worker kept which was then killed."""
    over = {"state": State.DONE, "ended_at": at, "words": words, "found": found, "lease_until": None}
    if not _mine(work).update(**over, done=F("total")):
        return
    if made is not None:
        facts = {"name": made.name, "content_type": made.content_type, "data": made.data}
        WorkFile.objects.update_or_create(work=work, defaults=facts)


@deed
def give_up(*, work: Work, words: str, at: datetime) -> None:
    """It cannot be done, and the words say why."""
    _mine(work).update(state=State.FAILED, ended_at=at, words=words, lease_until=None)


@deed
def stop(*, work: Work, at: datetime) -> None:
    """The worker left off because somebody cancelled, before anything was made."""
    words = _("It was left off before it was done. Nothing was made.")
    _mine(work).update(state=State.CANCELLED, ended_at=at, words=words, lease_until=None)


@deed
def lay_down(*, work: Work) -> None:
    """The worker is to stop: another may begin anew at once, and this try does not count."""
    _mine(work).update(state=State.ASKED, lease_until=None, tries=F("tries") - 1, done=0, words="")


@deed
def cancel(*, work: Work, by: Member, at: datetime) -> Work:
    """Ask that it be left off. What nobody has begun ends at once; of what is under way its worker is asked."""
    words = _("%(name)s cancelled it before it began. Nothing was made.") % {"name": by.name}
    Work.objects.filter(pk=work.pk, state=State.ASKED).update(state=State.CANCELLED, ended_at=at, words=words)
    Work.objects.filter(pk=work.pk, state=State.RUNNING, cancel_asked_at=None).update(cancel_asked_at=at)
    return Work.objects.get(pk=work.pk)


def sweep(*, at: datetime) -> int:
    """Forget works that ended a week ago, with their files, and old backups that were sent in. How many works."""
    sweep_sent(at=at, needed=Work.objects.files_to_try())
    return _forget(at=at) if Work.objects.kept_too_long(at).exists() else 0


@deed
def _forget(*, at: datetime) -> int:
    _count, by_model = Work.objects.kept_too_long(at).delete()
    return by_model.get(Work._meta.label, 0)


def _mine(work: Work) -> Any:
    """The row, while this try is the one that does it."""
    return Work.objects.filter(pk=work.pk, state=State.RUNNING, tries=work.tries)
