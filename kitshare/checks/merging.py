"""Two people did the check of one kit: the first is the check, the second is put beside it line by line."""

import functools
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from kitshare.checks.lines import ListedPart, PartSeen, judge, paired, pickup_list, return_list
from kitshare.checks.models import CONDITIONS, CheckKind, CheckLine, HandoverCheck, Outcome
from kitshare.checks.recording import Sheet, Signature, known_faults
from kitshare.checks.sent_models import SentSheet
from kitshare.checks.telling import tell_differing, write_merged
from kitshare.outbox.speaking import Said
from kitshare.rules.checklists import Condition, stops_handover
from kitshare.upkeep import shelf
from kitshare.upkeep.models import Fault

CONDITION_WORDS = dict(CONDITIONS)


@dataclass(slots=True)
class Second:
    """What the second check says otherwise: a row and a sentence for each part, and whether any of it matters."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    sentences: list[Said] = field(default_factory=list)
    matters: bool = False

    @property
    def words(self) -> list[str]:
        return [say() for say in self.sentences]


def merge(
    sheet: SentSheet, first: HandoverCheck, *, seen: Sequence[PartSeen], signature: Signature, at: datetime
) -> Second:
    """Compare it with the first, and report as a fault whatever it saw worse, unless that is known already."""
    second = Second()
    kind = CheckKind(sheet.kind)
    pairs = paired(_listed(sheet, first), seen)
    known = known_faults(pairs) | _known_from_others(first)
    known_keys = {line.fault_id for line in known.values()}
    lines = {line.part_id: line for line in first.lines.select_related("part")}
    as_sheet = Sheet(
        booking=sheet.booking,
        kind=kind,
        outcome=Outcome.HANDED_OVER,
        signature=signature,
        seen=seen,
        by=sheet.by,
        at=sheet.made_at,
        from_booking=sheet.from_booking,
    )
    for row, line in pairs:
        before = lines.get(row.part.pk)
        if before is None or _differs(before, line):
            fault = None
            if before is None or _is_worse(before, line):
                fault = as_sheet.fault(row, line, known.get(row.part.pk), now=at)
            is_new = fault is not None and fault.pk not in known_keys
            if line.spare_fitted and not (before and before.spare_fitted):
                short = max(row.expected - line.count, 1)
                shelf.fit_spare(part=row.part, count=short, booking_key=sheet.booking_id, by=sheet.by, at=at)
            would_stop = kind != CheckKind.RETURN and stops_handover(judge(row, line)) is not None
            matters = is_new or would_stop
            second.rows.append(_row(row, line, fault, is_new=is_new, matters=matters))
            sentence = functools.partial(_sentence, row, before, line, first.signed_name, is_new=is_new)
            second.sentences.append(sentence)
            second.matters = second.matters or matters
    write_merged(sheet, first, second.words, at)
    if second.matters:
        tell_differing(sheet, first, lambda: second.words, at)
    return second


def in_words(count: int, expected: int, condition: str, *, spare_fitted: bool) -> str:
    """A line in short, such as "11 of 12, worn"."""
    words = str(CONDITION_WORDS[condition])
    if expected > 1:
        words = _("%(count)d of %(all)d, %(condition)s") % {"count": count, "all": expected, "condition": words}
    return _("%(seen)s, spare put in") % {"seen": words} if spare_fitted else words


def _listed(sheet: SentSheet, first: HandoverCheck) -> list[ListedPart]:
    if sheet.kind == CheckKind.PICKUP:
        return pickup_list(sheet.booking)
    return return_list(first.from_booking or sheet.booking)


def _differs(before: CheckLine, line: PartSeen) -> bool:
    there = (before.count, before.condition, before.spare_fitted)
    return there != (line.count, line.condition.value, line.spare_fitted)


def _is_worse(before: CheckLine, line: PartSeen) -> bool:
    fewer = line.count < before.count
    return fewer or line.condition.rank > Condition(before.condition).rank or line.spare_fitted


def _known_from_others(first: HandoverCheck) -> dict[int, CheckLine]:
    """What earlier sheets beside this check reported and is still open, as lines: the worst of each part."""
    rows = [row for sheet in first.sheets.all() for row in sheet.differences if row["fault"]]
    faults = Fault.objects.open().in_bulk([row["fault"] for row in rows])
    rows.sort(key=lambda row: (Condition(row["condition"]).rank, -row["count"]))
    return {
        row["part"]: CheckLine(
            part_id=row["part"],
            count=row["count"],
            condition=row["condition"],
            spare_fitted=row["spare"],
            fault=faults[row["fault"]],
        )
        for row in rows
        if row["fault"] in faults
    }


def _row(row: ListedPart, line: PartSeen, fault: Fault | None, *, is_new: bool, matters: bool) -> dict[str, Any]:
    return {
        "part": row.part.pk,
        "count": line.count,
        "expected": row.expected,
        "condition": line.condition.value,
        "spare": line.spare_fitted,
        "note": line.note,
        "photo": str(line.photo.key) if line.photo else "",
        "fault": fault.pk if fault else None,
        "is_new_fault": is_new,
        "matters": matters,
    }


def _sentence(row: ListedPart, before: CheckLine | None, line: PartSeen, first_name: str, *, is_new: bool) -> str:
    words = {
        "part": row.part.name,
        "first": first_name,
        "second": in_words(line.count, row.expected, line.condition.value, spare_fitted=line.spare_fitted),
    }
    if before is None:
        said = _("%(part)s: only on the second sheet, %(second)s.") % words
    else:
        words["before"] = in_words(
            before.count, before.expected_count, before.condition, spare_fitted=before.spare_fitted
        )
        said = _("%(part)s: %(first)s saw “%(before)s”, the second “%(second)s”.") % words
    return f"{said} {_('A fault is reported.')}" if is_new else said
