"""Shared parts at a handover: one that is out with another village cannot go along."""

from collections.abc import Sequence

from kitshare.bookings.models import Booking, Stage
from kitshare.checks.models import GOES_OUT, CheckLine, Outcome
from kitshare.kits.models import Machine
from kitshare.kits.sharing import parts_for
from kitshare.rules.checklists import Condition


def lines_of_parts_away(booking: Booking, machines: Sequence[Machine]) -> list[CheckLine]:
    """For each shared part of these machines that went out with another booking and is out still, how it went."""
    serving = parts_for(machines).exclude(also_serves=None).order_by().values("pk")
    out = CheckLine.objects.filter(
        part__in=serving,
        check_of__booking__stage=Stage.OUT,
        check_of__kind__in=GOES_OUT,
        check_of__outcome=Outcome.HANDED_OVER,
    )
    gone = out.exclude(check_of__booking=booking).exclude(condition=Condition.MISSING.value)
    return list(gone.select_related("part", "check_of__booking__village").order_by("pk"))
