"""Recording a safety test with its readings: each is compared with its limit, and one that fails fails the test."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Final, TypedDict, Unpack

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.people.models import Member, Scheme
from kitshare.rules import electrics
from kitshare.rules.electrics import Protection, RuleSet, Verdict
from kitshare.rules.instruments import MEASURED, Figure, Kind, ReadingRefused
from kitshare.rules.leads import Lead
from kitshare.upkeep import care
from kitshare.upkeep.care_models import CareKind, CarePlan, CareRecord
from kitshare.upkeep.care_refusals import CareRefused
from kitshare.upkeep.reading_models import MOST_HEATING_KW, SafetyReading, SafetySheet
from kitshare.upkeep.reading_words import finding_in_words, refusal_in_words

LONGEST_NOTE: Final = 1200  # with the words around it and the readings, it is also the note of a fault
# What is read or looked at in each kind of test. A probe has checks of its own.
KINDS_OF: Final[Mapping[str, tuple[Kind, ...]]] = {
    CareKind.VISUAL: (Kind.VISUAL, Kind.GUARD, Kind.INTERLOCK),
    CareKind.ELECTRICAL: (Kind.VISUAL, Kind.EARTH, Kind.INSULATION, Kind.LEAKAGE),
    CareKind.TRIP_SWITCH: (Kind.VISUAL, Kind.TRIP_HALF, Kind.TRIP_RATED, Kind.TRIP_FIVE),
    CareKind.GUARD: (Kind.VISUAL, Kind.GUARD, Kind.INTERLOCK),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What the tester said of the machine, and what was read: a figure, or for what was looked at yes or no."""

    readings: Mapping[Kind, Figure | bool]
    protection: Protection = Protection.CLASS_I
    hand_held: bool = False
    heating_kw: Decimal = Decimal(0)
    lead: Lead | None = None
    portable_switch: bool = True
    instrument: str = ""

    def __str__(self) -> str:
        """The whole of it, so that a form sent twice is told from one that was changed."""
        read = sorted((kind.value, str(found)) for kind, found in self.readings.items())
        machine = (self.protection, self.hand_held, self.heating_kw, self.lead, self.portable_switch)
        return f"{read} {machine} {self.instrument}"


class Said(TypedDict):
    """What is said of a test beside its readings."""

    done_on: date
    done_by_name: str
    passed: bool
    note: str
    next_due_on: date | None


class NotOfThisTest(CareRefused):
    """No readings are kept for this plan, or none of that kind."""

    def __init__(self) -> None:
        super().__init__(_("No such readings belong to this test."))


class NothingRead(CareRefused):
    """Readings without one reading."""

    def __init__(self) -> None:
        super().__init__(_("Write at least one reading, or what was looked at."))


class HeatingNotSensible(CareRefused):
    """A power that no machine of a yard heats with."""

    field = "heating_kw"

    def __init__(self) -> None:
        super().__init__(_("Give kilowatts from 0 to %(most)s.") % {"most": MOST_HEATING_KW})


class ReadingNotTaken(CareRefused):
    """A reading that cannot be compared; the field is called after its kind."""

    def __init__(self, refusal: ReadingRefused) -> None:
        super().__init__(refusal_in_words(refusal))
        self.field = refusal.kind.value


class FinerThanKept(CareRefused):
    """Metres or kilowatts with more decimals than are kept: the limit would rest on another number than the record."""

    def __init__(self, field: str) -> None:
        super().__init__(_("Give two decimals at most."))
        self.field = field


@deed
def record_test(
    *,
    plan: CarePlan,
    tested: Findings,
    by: Member,
    at: datetime,
    today: date,
    seen: int | None = None,
    form_key: uuid.UUID | None = None,
    **said: Unpack[Said],
) -> CareRecord:
    """Record a test with its readings, each beside the limit of the rules that the scheme has chosen.

    A reading outside its limit fails the test whatever was said of it: the machine is set aside in the same
    transaction. A form sent twice is one record. Raises CareRefused.
    """
    rules = rules_in_force()
    readings = judged(plan, tested, rules)
    wrong = [finding_in_words(reading) for reading in readings if reading.within is False]
    said["passed"] = said["passed"] and not wrong
    key = uuid.uuid5(form_key, str(tested)) if form_key else None
    finding = f"{'; '.join(wrong)}." if wrong else ""
    finding = f"{finding[:1].upper()}{finding[1:]}"
    record = care.record_care(plan=plan, by=by, at=at, today=today, seen=seen, form_key=key, finding=finding, **said)
    if not SafetySheet.objects.filter(record=record).exists():
        _keep(record, tested, readings, rules)
    return record


def rules_in_force() -> RuleSet | None:
    """The rules that the scheme has chosen."""
    scheme = Scheme.objects.current()
    return RuleSet(scheme.electrical_rules) if scheme and scheme.electrical_rules else None


def judged(plan: CarePlan, tested: Findings, rules: RuleSet | None) -> list[SafetyReading]:
    """The readings in the order of the test, each with its limit and how it stands to it; not saved yet.

    Raises CareRefused.
    """
    kinds = KINDS_OF.get(plan.kind, ())
    if not set(tested.readings) <= set(kinds):
        raise NotOfThisTest
    if not tested.readings:
        raise NothingRead
    if not (tested.heating_kw.is_finite() and 0 <= tested.heating_kw <= MOST_HEATING_KW):
        raise HeatingNotSensible
    lengths = [("lead_m", tested.lead.length_m)] if tested.lead else []
    for field, given in [("heating_kw", tested.heating_kw), *lengths]:
        if given != round(given, 2):
            raise FinerThanKept(field)
    machine = electrics.Machine(
        protection=tested.protection,
        hand_held=tested.hand_held,
        heating_kw=tested.heating_kw,
        lead=tested.lead,
        portable_switch=tested.portable_switch,
    )
    return [_reading(kind, tested.readings[kind], rules, machine) for kind in kinds if kind in tested.readings]


def _reading(kind: Kind, found: Figure | bool, rules: RuleSet | None, machine: electrics.Machine) -> SafetyReading:
    if isinstance(found, bool):
        if kind in MEASURED:
            raise NotOfThisTest
        return SafetyReading(kind=kind.value, as_it_should_be=found, within=electrics.seen(found).within)
    try:
        verdict: Verdict = electrics.judge(found, kind=kind, rules=rules, machine=machine)
    except ReadingRefused as refusal:
        raise ReadingNotTaken(refusal) from None
    limit = verdict.limit
    return SafetyReading(
        kind=kind.value,
        value=found.value,
        bound=found.bound.value,
        unit=MEASURED[kind].unit.value,
        limit_value=limit.value if limit else None,
        limit_at_most=limit.at_most if limit else True,
        source=limit.source.value if limit else "",
        within=verdict.within,
    )


def _keep(record: CareRecord, tested: Findings, readings: list[SafetyReading], rules: RuleSet | None) -> None:
    sheet = SafetySheet(
        record=record,
        rules=rules or "",
        protection=tested.protection.value,
        hand_held=tested.hand_held,
        heating_kw=tested.heating_kw,
        lead_m=tested.lead.length_m if tested.lead else None,
        lead_mm2=tested.lead.mm2 if tested.lead else None,
        portable_switch=tested.portable_switch,
        instrument=tested.instrument.strip(),
    )
    sheet.save()
    for reading in readings:
        reading.sheet = sheet
    SafetyReading.objects.bulk_create(readings)
