"""The clock of a server: any number of beats may run, and the one that holds the lease rings.

A beat that is killed leaves the site without one until its lease is over and another has looked: at most a lease and a
third. What is rung for may be done twice, so that a ring too many costs a query and tells nobody twice.
"""

import logging
import os
import socket
import time
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from celery.beat import ScheduleEntry, Scheduler
from django.conf import settings
from django.db import Error, close_old_connections
from django.utils import timezone

from kitshare.serving import actions as serving
from kitshare.serving.models import RINGING

log = logging.getLogger(__name__)

LONG_AGO: Final = datetime(1970, 1, 1, tzinfo=UTC)


class OneBeatRings(Scheduler):
    """Rings while it holds the lease. It keeps no file: whoever begins to lead rings for everything once."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.holder = f"{socket.gethostname()[:60]} pid {os.getpid()} {uuid.uuid4().hex}"
        self.lasting = timedelta(seconds=settings.BEAT_LEASE_SECONDS)
        self.leads = False
        self._ask_again_at = 0.0
        super().__init__(*args, **kwargs)
        self.look_every = max(1, round(self.lasting.total_seconds() / 3))

    def tick(self, *args: Any, **kwargs: Any) -> float:
        """Ring for what is due, if this beat leads; in how many seconds to look again."""
        if not self._leads_now():
            return self.look_every
        if any(entry.last_run_at and entry.last_run_at > entry.default_now() for entry in self.schedule.values()):
            log.warning("The clock was set back: everything is rung for once more.")
            self._ring_for_everything()
        return min(float(super().tick(*args, **kwargs) or 0), self.look_every)

    def apply_entry(self, entry: ScheduleEntry, producer: Any = None) -> None:
        """Ring, unless the lease ran out while this beat waited for Redis."""
        if self._leads_now():
            super().apply_entry(entry, producer=producer)

    def close(self) -> None:
        try:
            super().close()
        finally:
            if self.leads:
                self.leads = False
                self._give_lease_back()

    def _leads_now(self) -> bool:
        now = time.monotonic()
        if self.leads and now < self._ask_again_at:
            return True
        led, self.leads = self.leads, self._hold_lease()
        self._ask_again_at = now + self.look_every
        if time.monotonic() - now > self.lasting.total_seconds():
            self.leads = False  # the answer took longer than it is good for
        if self.leads and not led:
            log.info("This beat rings from now on.")
            self._ring_for_everything()
        elif led and not self.leads:
            log.warning("Another beat rings from now on, or the database is away.")
        return self.leads

    def _hold_lease(self) -> bool:
        try:
            close_old_connections()
            return serving.hold_lease(work=RINGING, holder=self.holder, lasting=self.lasting, at=timezone.now())
        except Error as error:
            log.warning("The database does not say who rings: %s", error)
            return False

    def _give_lease_back(self) -> None:
        try:
            serving.give_lease_back(work=RINGING, holder=self.holder, at=timezone.now())
        except Error as error:
            log.warning("The lease was not given back, and ends by itself: %s", error)

    def _ring_for_everything(self) -> None:
        for entry in self.schedule.values():
            entry.last_run_at = LONG_AGO
        self._heap = None
