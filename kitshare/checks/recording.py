"""Writing a sheet down: the check, its lines, the faults they show, the logbook, and word to whom it concerns."""

import hashlib
import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings import days
from kitshare.bookings.models import Booking
from kitshare.bookings.words import day_in_words
from kitshare.checks import coming, telling
from kitshare.checks.coming import Came, Weighed
from kitshare.checks.gates import HandoverRefused
from kitshare.checks.lines import ListedPart, PartSeen, fault_note, judge
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome, SignedRole
from kitshare.checks.pausing import clear_pauses
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.rules.checklists import Condition, FaultFinding, Severity, fault_from
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import shelf
from kitshare.upkeep.models import Fault

Pairs = Sequence[tuple[ListedPart, PartSeen]]


class ChangedSinceSent(HandoverRefused):
    """A sheet that was recorded before came again with something else on it."""

    def __init__(self, recorded: HandoverCheck) -> None:
        super().__init__(
            _("This check was recorded before, with other answers. What was recorded then stands; nothing was changed.")
        )
        self.recorded = recorded


class NotSigned(HandoverRefused):
    """Nobody put their name under it."""

    def __init__(self) -> None:
        super().__init__(_("Whoever hands over or takes back signs with their name."))


class TwoMustSign(HandoverRefused):
    """At a relay one person of each village signs."""

    def __init__(self) -> None:
        super().__init__(_("Two people sign a relay: one who hands over and another who takes it on."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """The sheet's own key, and who put their name under it."""

    key: uuid.UUID
    name: str
    role: SignedRole
    note: str = ""
    taken_name: str = ""  # at a relay: who takes it on
    is_clean: bool | None = None  # at a relay: whether it was cleaned down


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet on its way into the book."""

    booking: Booking
    kind: CheckKind
    outcome: Outcome
    signature: Signature
    seen: Sequence[PartSeen]
    by: Member
    at: datetime
    from_booking: Booking | None = None  # at a relay: the one that hands over
    came: Came | None = None  # signed away from here, and come in only now

    @property
    def now(self) -> datetime:
        """When it is written down, which may be long after it was signed."""
        return self.came.written_at if self.came else self.at

    def recorded_before(self) -> HandoverCheck | None:
        """The check that this very sheet made when it was first sent. Raises ChangedSinceSent if it differs now.

        The machines are locked first: of two that come at once, the second waits here and then finds the first.
        """
        if not self.signature.name.strip():
            raise NotSigned
        if self.from_booking is not None:
            _check_two_signed(self.signature)
        days.lock_machines(self.booking.machines.values_list("pk", flat=True))
        self.booking.refresh_from_db(fields=["stage", "out_on", "back_on"])
        earlier = HandoverCheck.objects.filter(key=self.signature.key).first()
        if earlier and earlier.digest != self.digest():
            raise ChangedSinceSent(earlier)
        return earlier

    def record(self, weighed: Weighed) -> HandoverCheck:
        """Write the check, its lines, the faults they show and the spares they took."""
        pairs = weighed.pairs
        check = HandoverCheck.objects.create(
            key=self.signature.key,
            booking=self.booking,
            kind=self.kind,
            outcome=self.outcome,
            by=self.by,
            signed_name=self.signature.name.strip(),
            signed_role=self.signature.role,
            note=self.signature.note,
            from_booking=self.from_booking,
            taken_name=self.signature.taken_name.strip(),
            is_clean=self.signature.is_clean,
            done_at=self.at,
            written_at=self.came.written_at if self.came else None,
            on_paper=bool(self.came and self.came.on_paper),
            in_spite=" ".join(weighed.spite),
            digest=self.digest(),
        )
        if weighed.unseen:
            check.not_seen.set(weighed.unseen)
        if check.went_in_spite:
            telling.tell_of_spite(check)  # before any fault is reported: it comes first
        if self.outcome == Outcome.HANDED_OVER:
            clear_pauses(self.booking, self.kind)
        self._write_lines(check, pairs)
        return check

    def _write_lines(self, check: HandoverCheck, pairs: Pairs) -> None:
        known = known_faults(pairs)
        lines = [
            CheckLine(
                check_of=check,
                part=row.part,
                expected_count=row.expected,
                count=line.count,
                condition=line.condition.value,
                spare_fitted=line.spare_fitted,
                note=line.note,
                photo=line.photo,
                fault=self.fault(row, line, known.get(row.part.pk), now=self.now),
            )
            for row, line in pairs
        ]
        CheckLine.objects.bulk_create(lines)
        for line in lines:
            if line.spare_fitted:
                short = max(line.expected_count - line.count, 1)
                shelf.fit_spare(part=line.part, count=short, booking_key=self.booking.pk, by=self.by, at=self.now)

    def write(self, check: HandoverCheck, *, deed: str, text: str, pairs: Pairs) -> None:
        """The logbook's line. It mentions every part, so that each part's own history says when it was last seen."""
        machines: dict[int, Machine] = {machine.pk: machine for machine in self.booking.machines.select_related("kit")}
        whole = {machine.kit_id: machine.kit for machine in machines.values()}
        parts = [row.part for row, _line in pairs]
        first = self.from_booking
        ends = [self.booking, self.booking.village, *([first, first.village] if first else [])]
        about: list[models.Model] = [*ends, *machines.values(), *whole.values(), *parts]
        text = f"{text} {coming.in_words(check)}".strip()
        logbook.write(deed=deed, text=text, about=about, by=self.by, at=self.now)

    def occasion(self) -> str:
        """The handover in words, such as "pickup check of Sorrelhythe, Sat 11 Sep"."""
        kind = CheckKind(self.kind).label
        day = day_in_words(timezone.localtime(self.at).date())
        return _("%(kind)s of %(village)s, %(day)s") % {"kind": kind, "village": self.booking.village, "day": day}

    def digest(self) -> str:
        """The same for the same sheet, whoever reads it and however often."""
        said = sorted(
            [
                line.part.pk,
                line.count,
                line.condition.value,
                line.spare_fitted,
                line.note,
                line.photo.digest if line.photo else "",
            ]
            for line in self.seen
        )
        whole = [
            self.booking.pk,
            self.kind.value,
            self.outcome.value,
            self.by.pk,
            self.signature.name,
            self.signature.role.value,
            self.signature.note,
            said,
        ]
        if self.from_booking is not None:
            whole += [self.from_booking.pk, self.signature.taken_name, self.signature.is_clean]
        return hashlib.sha256(json.dumps(whole).encode()).hexdigest()

    def fault(self, row: ListedPart, line: PartSeen, known: CheckLine | None, *, now: datetime) -> Fault | None:
        """The fault that a line shows, if any: the open one that is known and says as much, or one reported now."""
        finding = fault_from(judge(row, line), row.went_out_count)
        if finding is None:
            return None
        if known is not None and _says_as_much(known, line, finding):
            return known.fault
        return upkeep.report_fault(
            machine=row.part.machine,
            part=row.part,
            note=fault_note(row, line, finding, self.occasion()),
            severity=finding.severity,
            by=self.by,
            at=now,
        )


def _check_two_signed(signature: Signature) -> None:
    names = [" ".join(name.split()).casefold() for name in (signature.name, signature.taken_name)]
    if not names[1] or names[0] == names[1]:
        raise TwoMustSign


def known_faults(pairs: Pairs) -> dict[int, CheckLine]:
    """For each part the last line that led to a fault which is still open."""
    parts = [row.part for row, _line in pairs]
    lines = CheckLine.objects.filter(part__in=parts, fault__in=Fault.objects.open()).select_related("fault")
    return {line.part_id: line for line in lines.order_by("check_of__done_at", "pk")}


def _says_as_much(known: CheckLine, line: PartSeen, finding: FaultFinding) -> bool:
    """Whether an open fault of the part covers what is seen now, so that it is not reported a second time."""
    if line.spare_fitted or known.spare_fitted or known.fault is None:
        return False
    as_bad = Severity(known.fault.severity).rank <= finding.severity.rank
    no_worse = line.count >= known.count and line.condition.rank <= Condition(known.condition).rank
    return as_bad and no_worse
