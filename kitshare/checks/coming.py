"""How a sheet came that was signed away from this site: on a phone without signal, or on paper.

What was signed has happened. So the gates, which look again when the sheet comes, cannot undo it: what they refuse is
written down as done in spite of them, and the coordinators hear of it before anything else.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils import dateformat, timezone
from django.utils.translation import gettext as _

from kitshare.checks.gates import HandoverRefused
from kitshare.checks.lines import ListedPart, PartSeen, PartsNotSeen, PickupStopped, Stop, paired, stops
from kitshare.checks.models import HandoverCheck
from kitshare.kits.models import Part


class NothingStops(HandoverRefused):
    """Somebody would stop a pickup though no vital or guard part is wrong."""

    def __init__(self) -> None:
        super().__init__(
            _("No vital or guard part is marked as missing, damaged or short, so nothing stops this handover.")
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """When a sheet came here, and what it may be taken in spite of."""

    written_at: datetime
    on_paper: bool = False
    past_gates: bool = False  # a fault or an overdue test that stops a machine does not undo the handover
    past_stops: bool = False  # nor does a vital or a guard part of which the sheet says that it was wrong
    unseen_may_be: bool = False  # parts that nobody looked at are named, instead of refusing the sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """A sheet that may be recorded: its lines, the parts that nobody looked at, and what it is recorded in spite of."""

    pairs: list[tuple[ListedPart, PartSeen]]
    unseen: list[Part]
    spite: list[str]


def weigh(
    listed: Sequence[ListedPart],
    seen: Sequence[PartSeen],
    *,
    came: Came | None,
    refusals: Sequence[HandoverRefused] = (),
    is_going_out: bool = True,
) -> Weighed:
    """Look at a sheet as the gates do. Raises the first refusal, PartsNotSeen or PickupStopped where it must not be."""
    _pass_gates(refusals, came)
    pairs = paired(listed, seen)
    said = {line.part.pk for line in seen}
    unseen = [row.part for row in listed if row.part.pk not in said]
    if unseen and not (came and came.unseen_may_be):
        raise PartsNotSeen(unseen)
    if not is_going_out:
        return Weighed(pairs=pairs, unseen=unseen, spite=[])
    stopping = stops(pairs)
    if stopping and not (came and came.past_stops):
        raise PickupStopped(stopping)
    spite = [
        *(refusal.fact for refusal in refusals),
        *(stop.message for stop in stopping),
        *(_("%(part)s: nobody looked at it.") % {"part": part.name} for part in unseen if part.stops_a_handover),
    ]
    return Weighed(pairs=pairs, unseen=unseen, spite=spite)


def weigh_stop(
    listed: Sequence[ListedPart],
    seen: Sequence[PartSeen],
    *,
    came: Came | None,
    refusals: Sequence[HandoverRefused],
) -> tuple[Weighed, list[Stop]]:
    """Look at a sheet that keeps a kit where it is; it may leave parts out. Raises a refusal, NothingStops too."""
    _pass_gates(refusals, came)
    pairs = paired(listed, seen)
    stopping = stops(pairs)
    if not stopping:
        raise NothingStops
    return Weighed(pairs=pairs, unseen=[], spite=[]), stopping


def _pass_gates(refusals: Sequence[HandoverRefused], came: Came | None) -> None:
    if refusals and not (came and came.past_gates):
        raise refusals[0]


def in_words(check: HandoverCheck) -> str:
    """For the logbook: how it came, and what it was done in spite of. Empty for a check that was signed here."""
    if check.written_at is None:
        return ""
    words = {"when": moment_in_words(check.done_at), "who": check.by.name, "why": check.in_spite}
    if check.on_paper:
        said = _("Signed on paper at %(when)s, typed in by %(who)s.") % words
    else:
        said = _("Signed on a phone at %(when)s, received now.") % words
    return f"{said} {_('Done in spite of this: %(why)s') % words}" if check.in_spite else said


def moment_in_words(at: datetime) -> str:
    """A moment by the scheme's clock, such as "Sat 11 Sep, 14:05"."""
    return dateformat.format(timezone.localtime(at), "D j M, H:i")
