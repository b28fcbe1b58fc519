"""Doing a long work: by a celery task, or by a thread of the loop where there is no celery."""

import logging
import uuid
from collections.abc import Callable

from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.people.models import Scheme
from kitshare.serving import logs
from kitshare.works import actions as works
from kitshare.works.kinds import DOERS
from kitshare.works.models import Work
from kitshare.works.outcomes import CannotBeDone
from kitshare.works.progress import Clock, LeftOff, Progress, Stopping

log = logging.getLogger(__name__)


def never() -> bool:
    """Nobody asks this process to stop in between."""
    return False


def do(key: uuid.UUID | str, *, clock: Clock, stopping: Callable[[], bool] = never) -> None:
    """Take a work up, unless somebody else has, and bring it to an end."""
    work = Work.objects.filter(pk=key).select_related("asked_by").first()
    begun = works.take_up(work=work, at=clock()) if work is not None else None
    if begun is None:
        return
    log.info("Work %s begins (%s, try %s).", begun.pk, begun.kind, begun.tries)
    scheme = Scheme.objects.current()
    zone = scheme.zone if scheme else None
    try:
        with Progress(begun, clock=clock, stopping=stopping) as progress, timezone.override(zone):
            outcome = DOERS[begun.kind](begun, progress, clock)
        works.finish(work=begun, words=outcome.words, made=outcome.made, found=outcome.found, at=clock())
    except LeftOff:
        works.stop(work=begun, at=clock())
    except Stopping:
        works.lay_down(work=begun)
    except CannotBeDone as why:
        works.give_up(work=begun, words=str(why), at=clock())
    except Exception:
        # Whatever it was: whoever asked must learn that it is over, and the log keeps why.
        log.exception("Work %s broke.", begun.pk)
        works.give_up(work=begun, words=_("It broke off, and nothing was made. The log says why."), at=clock())
    log.info("Work %s is over.", begun.pk)


def do_what_waits(*, clock: Clock, stopping: Callable[[], bool]) -> None:
    """Everything that nobody does yet, one after the other."""
    while not stopping() and (work := Work.objects.to_take_up(clock()).first()):
        logs.begin(work=str(work.pk))
        do(work.pk, clock=clock, stopping=stopping)
    logs.end()
