"""What a finished check shows beside its own lines: how it came, and what a second check of the same kit saw."""

from dataclasses import dataclass

from kitshare.checks.merging import in_words
from kitshare.checks.models import CheckLine, HandoverCheck
from kitshare.checks.sent_models import SentSheet, SheetState
from kitshare.kits.models import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One part as the first saw it and as the second did, in words; the fault is what the second led to."""

    name: str
    first: str
    second: str
    note: str
    fault_key: int | None
    is_loud: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondCheck:
    """A sheet that came after the check of the same kit."""

    sheet: SentSheet
    signed_name: str
    differences: list[Difference]


def second_checks(check: HandoverCheck, lines: list[CheckLine]) -> list[SecondCheck]:
    """Those kept beside a check, the first that came first. Two queries at most, however many."""
    sheets = list(check.sheets.filter(state=SheetState.MERGED).select_related("by").order_by("received_at", "pk"))
    keys = {row["part"] for sheet in sheets for row in sheet.differences}
    names = dict(Part.objects.filter(pk__in=keys).values_list("pk", "name")) if keys else {}
    seen = {line.part_id: line for line in lines}
    return [
        SecondCheck(
            sheet=sheet,
            signed_name=sheet.body["signature"].get("name", sheet.by.name),
            differences=[
                Difference(
                    name=names[row["part"]],
                    first=_first(seen.get(row["part"])),
                    second=in_words(row["count"], row["expected"], row["condition"], spare_fitted=row["spare"]),
                    note=row["note"],
                    fault_key=row["fault"],
                    is_loud=row["matters"],
                )
                for row in sheet.differences
            ],
        )
        for sheet in sheets
    ]


def _first(line: CheckLine | None) -> str:
    if line is None:
        return "–"
    return in_words(line.count, line.expected_count, line.condition, spare_fitted=line.spare_fitted)
