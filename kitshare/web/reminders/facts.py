"""The policy as its page shows it: kinds in groups, each with its rows in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from kitshare.reminders.models import Kind, ReminderRow
from kitshare.reminders.terms import TERMS, Terms
from kitshare.reminders.words import in_words

GROUPS: Final[list[tuple[str | Promise, tuple[Kind, ...]]]] = [
    (_("Before the pickup"), (Kind.BRIEFING, Kind.PICKUP, Kind.BRING, Kind.RELAY, Kind.OFFER)),
    (_("Coming back"), (Kind.RETURN, Kind.OVERDUE, Kind.CLEAN_DOWN)),
    (_("When a booking is at risk"), (Kind.FAULT, Kind.TEST_FIRST, Kind.LATE_KIT)),
    (_("At the workbench"), (Kind.SERVICE, Kind.BY_USE, Kind.TEST)),
    (_("The season"), (Kind.SEASON_OPENS, Kind.SEASON_CLOSES, Kind.LAY_UP)),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFacts:
    """One row with its words."""

    row: ReminderRow
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KindFacts:
    """A kind with its rows, those first that go first."""

    kind: Kind
    terms: Terms
    rows: list[RowFacts]


def grouped(rows: Iterable[ReminderRow]) -> list[tuple[str | Promise, list[KindFacts]]]:
    """Every kind in its group."""
    of: dict[str, list[RowFacts]] = {}
    for row in sorted(rows, key=lambda row: (row.days or 0, row.pk)):
        of.setdefault(row.kind, []).append(RowFacts(row=row, words=in_words(row)))
    return [
        (name, [KindFacts(kind=kind, terms=TERMS[kind], rows=of.get(kind, [])) for kind in kinds])
        for name, kinds in GROUPS
    ]
