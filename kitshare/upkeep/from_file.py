"""Safety tests from a file: what each row would become, and recording all of them or none."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Final, TypeVar

from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.engine import deed
from kitshare.people.models import Member
from kitshare.rules.electrics import Protection, RuleSet
from kitshare.rules.instruments import MEASURED, Figure, Kind, ReadingRefused, figure
from kitshare.rules.leads import CrossSectionUnknown, Lead
from kitshare.rules.reading_rows import READING_HEADINGS, Column, Row, RowsProblem, RowsRefused, rows_of
from kitshare.rules.servicing import FIRST_DAY
from kitshare.rules.sizing_terms import OutOfRange
from kitshare.upkeep import testing
from kitshare.upkeep.care_models import CarePlan, CareRecord
from kitshare.upkeep.care_refusals import CareRefused, DayNotSensible, NotDoneYet
from kitshare.upkeep.reading_models import LONGEST_INSTRUMENT, SafetyReading
from kitshare.upkeep.reading_words import refusal_in_words
from kitshare.upkeep.testing import Findings, Said
from kitshare.upkeep.words import day_with_year

T = TypeVar("T")
Known = dict[tuple[object, ...], set[bool]]
"""Of each plan, day and tester of a record with readings, whether it was passed; both where it was tested twice."""

OF_FILES: Final = uuid.UUID("6f1d0c1e-4a52-4f0e-9a4b-6a1c5c4f7d20")
"""So that the same row, read again, is the same record."""

PROBLEMS: Final = {
    RowsProblem.UNREADABLE: gettext_lazy("This is no text with a test in each line. Save it as CSV first."),
    RowsProblem.NO_ROWS: gettext_lazy("There is no test under the headings."),
    RowsProblem.TOO_MANY: gettext_lazy("That is more than 200 tests at once. Take them in parts."),
    RowsProblem.UNKNOWN_HEADING: gettext_lazy("No heading is called “%(what)s” here. Use those of the list below."),
    RowsProblem.HEADING_TWICE: gettext_lazy("The heading “%(what)s” stands there twice."),
    RowsProblem.HEADING_MISSING: gettext_lazy("The heading “%(what)s” is missing, and every test needs it."),
    RowsProblem.UNEVEN: gettext_lazy(
        "Line %(what)s has another number of cells than the headings. Put quotation marks round a cell with a comma."
    ),
}
YES: Final = frozenset({"yes", "ok", "y", "1", "true"})
NO: Final = frozenset({"no", "not ok", "n", "0", "false"})
OUTCOMES: Final = {"passed": True, "failed": False}


class FileRefused(CareRefused):
    """A file, or a row of it, that cannot be recorded so."""

    field = "text"


@dataclass(slots=True, kw_only=True)
class JudgedRow:
    """What a row would become: a record with its readings, nothing (recorded already), or problems in words."""

    row: Row
    plan: CarePlan | None = None
    said: Said | None = None
    findings: Findings | None = None
    readings: list[SafetyReading] = field(default_factory=list)
    is_known: bool = False
    problems: list[str] = field(default_factory=list)

    @property
    def will_fail(self) -> bool:
        return self.said is not None and (
            not self.said["passed"] or any(reading.within is False for reading in self.readings)
        )


def judge(data: bytes | str, *, today: date) -> list[JudgedRow]:
    """What each test of a file would become. Raises FileRefused for what is no such file."""
    try:
        rows = rows_of(data)
    except RowsRefused as refusal:
        raise FileRefused(str(PROBLEMS[refusal.problem]) % {"what": refusal.what}) from None
    plans: dict[tuple[str, str], list[CarePlan]] = {}
    for plan in CarePlan.objects.tests().select_related("machine__kit").annotate(last_on=Max("records__done_on")):
        plans.setdefault((plan.machine.name.casefold(), plan.name.casefold()), []).append(plan)
    known: Known = {}
    recorded = CareRecord.objects.filter(sheet__isnull=False, plan__ended_on=None)
    for *of_day, passed in recorded.values_list("plan_id", "done_on", "done_by_name", "passed"):
        known.setdefault(tuple(of_day), set()).add(passed)
    rules = testing.rules_in_force()
    found = [_judge(row, plans, known, today) for row in rows]
    for each in found:
        _compare(each, rules, known)
    return found


@deed
def record_file(*, data: str, by: Member, at: datetime, today: date) -> list[CareRecord]:
    """Record every test of a file that is not recorded yet, the oldest first; or none, where one cannot be.

    Raises FileRefused, and CareRefused as recording one by hand does.
    """
    judged = judge(data, today=today)
    if any(each.problems for each in judged):
        raise FileRefused(_("Some lines cannot be recorded so. Put them right; nothing was recorded."))
    new = [each for each in judged if not each.is_known]
    return [_record(each, by=by, at=at, today=today) for each in sorted(new, key=_day)]


def _day(judged: JudgedRow) -> date:
    return judged.said["done_on"] if judged.said else date.min


def _record(judged: JudgedRow, *, by: Member, at: datetime, today: date) -> CareRecord:
    assert judged.plan and judged.findings and judged.said  # noqa: S101, PT018 - it has no problem
    key = uuid.uuid5(OF_FILES, str(sorted(judged.row.cells.items())))
    return testing.record_test(
        plan=judged.plan, tested=judged.findings, by=by, at=at, today=today, form_key=key, **judged.said
    )


def _judge(row: Row, plans: Mapping[tuple[str, str], Sequence[CarePlan]], known: Known, today: date) -> JudgedRow:
    judged = JudgedRow(row=row)
    found = plans.get((row[Column.MACHINE].casefold(), row[Column.TEST].casefold()), ())
    if len(found) != 1:
        words = {"machine": row[Column.MACHINE], "test": row[Column.TEST]}
        sentence = _("Two kits have it: record it by hand.") if found else _("No safety test in force is called so.")
        judged.problems.append(f"{_('%(machine)s, %(test)s:') % words} {sentence}")
    else:
        judged.plan = found[0]
    judged.said = _said(judged, today)
    judged.findings = _findings(judged)
    if judged.plan and judged.said and judged.findings and not judged.problems:
        judged.is_known = _of_day(judged.plan, judged.said) in known
        last_on = judged.plan.last_on  # type: ignore[attr-defined]
        if not judged.is_known and last_on is not None and last_on > judged.said["done_on"]:
            words = {"day": day_with_year(last_on)}
            judged.problems.append(_("A later one is recorded already, of %(day)s.") % words)
    return judged


def _of_day(plan: CarePlan, said: Said) -> tuple[object, ...]:
    return plan.pk, said["done_on"], said["done_by_name"]


def _compare(judged: JudgedRow, rules: RuleSet | None, known: Known) -> None:
    if judged.plan and judged.findings and not judged.problems:
        try:
            judged.readings = testing.judged(judged.plan, judged.findings, rules)
        except CareRefused as refusal:
            judged.problems.append(str(refusal))
            return
        if judged.is_known and judged.said and (not judged.will_fail) not in known[_of_day(judged.plan, judged.said)]:
            judged.is_known = False
            sentence = _("One of that day by the same tester is recorded with the other outcome. Record this by hand.")
            judged.problems.append(sentence)


def _said(judged: JudgedRow, today: date) -> Said | None:
    row = judged.row
    done_on = _read(judged, Column.DAY, date.fromisoformat, _("Write the day as year-month-day, such as 2027-09-01."))
    outcome = OUTCOMES.get(row[Column.OUTCOME].casefold())
    if outcome is None:
        judged.problems.append(_("Outcome: write passed or failed."))
    if not row[Column.TESTER] or len(row[Column.TESTER]) > 120:
        judged.problems.append(_("Say who did it, by name."))
    if done_on is not None and done_on > today:
        judged.problems.append(str(NotDoneYet(day=done_on)))
    if done_on is not None and done_on < FIRST_DAY:
        judged.problems.append(str(DayNotSensible(field="day")))
    _refuse_longer(judged, Column.NOTE, testing.LONGEST_NOTE)
    if done_on is None or outcome is None or judged.problems:
        return None
    return Said(
        done_on=done_on, done_by_name=row[Column.TESTER], passed=outcome, note=row[Column.NOTE], next_due_on=None
    )


def _findings(judged: JudgedRow) -> Findings | None:
    row, before = judged.row, len(judged.problems)
    number = _("Write a number, such as 10 or 2,5.")
    protection = _read(judged, Column.PROTECTION, Protection, _("Write I, II or III."))
    heating = _read(judged, Column.HEATING_KW, _decimal, number)
    length = _read(judged, Column.LEAD_M, _decimal, number)
    mm2 = _read(judged, Column.LEAD_MM2, _decimal, number)
    hand_held = _yes_or_no(judged, Column.HAND_HELD)
    portable = _yes_or_no(judged, Column.PORTABLE_SWITCH)
    lead = _lead(judged, length, mm2)
    readings = _readings(judged)
    _refuse_longer(judged, Column.INSTRUMENT, LONGEST_INSTRUMENT)
    if len(judged.problems) > before:
        return None
    return Findings(
        readings=readings,
        protection=protection or Protection.CLASS_I,
        hand_held=bool(hand_held),
        heating_kw=heating or Decimal(0),
        lead=lead,
        portable_switch=portable is not False,
        instrument=row[Column.INSTRUMENT],
    )


def _lead(judged: JudgedRow, length: Decimal | None, mm2: Decimal | None) -> Lead | None:
    if length is None or mm2 is None:
        if bool(judged.row[Column.LEAD_M]) is not bool(judged.row[Column.LEAD_MM2]):
            judged.problems.append(_("Lead: give both its metres and its cross-section, or neither."))
        return None
    try:
        return Lead(length_m=length, mm2=mm2)
    except (OutOfRange, CrossSectionUnknown):
        judged.problems.append(_("Lead: 0 to 200 m, and 0.75, 1, 1.25, 1.5, 2.5 or 4 mm²."))
        return None


def _readings(judged: JudgedRow) -> dict[Kind, Figure | bool]:
    found: dict[Kind, Figure | bool] = {}
    for kind, heading in READING_HEADINGS.items():
        if kind not in MEASURED:
            looked = _yes_or_no(judged, heading)
            if looked is not None:
                found[kind] = looked
        elif judged.row[heading]:
            try:
                found[kind] = figure(judged.row[heading], kind)
            except ReadingRefused as refusal:
                judged.problems.append(f"{heading}: {refusal_in_words(refusal)}")
    return found


def _refuse_longer(judged: JudgedRow, heading: str, most: int) -> None:
    """What would not fit is told, never cut off: nothing that was typed is lost."""
    if len(judged.row[heading]) > most:
        words = {"heading": heading, "most": most}
        judged.problems.append(_("%(heading)s: longer than %(most)d letters.") % words)


def _yes_or_no(judged: JudgedRow, heading: str) -> bool | None:
    typed = judged.row[heading].casefold()
    if typed and typed not in YES | NO:
        judged.problems.append(f"{heading}: {_('Write yes or no.')}")
    return typed in YES if typed else None


def _read(judged: JudgedRow, heading: str, read: Callable[[str], T], sentence: str) -> T | None:
    """A cell as something else; a problem where it is no such thing, and nothing where it is empty."""
    typed = judged.row[heading]
    if not typed and heading != Column.DAY:
        return None
    try:
        return read(typed)
    except (ValueError, InvalidOperation):
        judged.problems.append(f"{heading}: {sentence}")
        return None


def _decimal(typed: str) -> Decimal:
    number = Decimal(typed.replace(",", ".") if typed.count(",") == 1 else typed)
    if not number.is_finite():
        raise ValueError(typed)
    return number
