"""Every deed about services and safety tests: planning, changing, ending, and recording what was done.

Each locks the machine first, as whoever hands it over does: a test that failed and a pickup signed at the same moment
see each other. Each writes a line about the plan: what happened since a form was opened is read from those.
"""

import uuid
from datetime import date, datetime
from decimal import Decimal
from typing import Final, NotRequired, TypedDict, Unpack

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.models import Machine
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.rules.checklists import Severity
from kitshare.rules.servicing import FIRST_DAY, LAST_DAY, Interval, Unit, next_due
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import eligibility
from kitshare.upkeep.care_models import CarePlan, CareRecord, UpkeepCalendar
from kitshare.upkeep.care_refusals import (
    DayNotSensible,
    DoneSince,
    DueTooSoon,
    IntervalNotSensible,
    MachineNotLent,
    NotDoneYet,
    NothingWritten,
    NotTheirs,
    PlanEnded,
    PlanNameTaken,
)
from kitshare.upkeep.fault_changes import lock_machine
from kitshare.upkeep.models import Fault
from kitshare.upkeep.use_limits import check_limits, facts_in_words, often_in_words
from kitshare.upkeep.words import day_with_year

CHANGES: Final = ("care_changed", "care_ended", "care_recorded")


class PlanFacts(TypedDict):
    """What people say of a service or a safety test that recurs."""

    kind: str
    name: str
    every: int
    unit: str
    due_on: date
    every_kg: NotRequired[Decimal | None]
    every_hours: NotRequired[Decimal | None]
    every_outings: NotRequired[int | None]
    who: str
    caution: str


@deed
def plan_care(
    *, machine: Machine, by: Member, at: datetime, form_key: uuid.UUID | None = None, **facts: Unpack[PlanFacts]
) -> CarePlan:
    """Plan a service or a safety test of a machine. A form sent twice is one plan."""
    _check_may(by)
    machine = lock_machine(machine.pk)
    key = uuid.uuid5(form_key, f"{by.pk} {machine.pk} {sorted(facts.items())}") if form_key else uuid.uuid4()
    planned_before = CarePlan.objects.filter(key=key).first()
    if planned_before is not None:
        return planned_before
    if machine.retired_on or machine.kit.retired_on:
        raise MachineNotLent(machine=machine)
    plan = CarePlan(key=key, machine=machine, added_at=at, changed_at=at, **facts)
    _save(plan)
    _write("care_planned", _("%(plan)s: planned %(interval)s, first due on %(due)s."), plan=plan, by=by, at=at)
    return plan


@deed
def change_plan(
    *,
    plan: CarePlan,
    by: Member,
    at: datetime,
    reason: str = "",
    seen: int | None = None,
    **facts: Unpack[PlanFacts],
) -> CarePlan:
    """Change a plan. Who moves the due day says why: nobody did the test by moving it."""
    _check_may(by)
    plan = _lock(plan)
    before = {name: getattr(plan, name) for name in facts}
    changed = {name: value for name, value in facts.items() if before[name] != value}
    if not changed:
        return plan
    logbook.check_unchanged(plan, seen=seen, by_deeds=CHANGES)
    _check_in_force(plan)
    reason = reason.strip()
    if "due_on" in changed:
        if not reason:
            raise NothingWritten(field="reason", sentence=_("Say why it is due on another day."))
        plan.sequence += 1
    was = facts_in_words(plan, changed)
    for name, value in changed.items():
        setattr(plan, name, value)
    plan.changed_at = at
    _save(plan)
    text = _("%(plan)s: changed from %(before)s to %(after)s. %(reason)s")
    _write(
        "care_changed", text, plan=plan, by=by, at=at, before=was, after=facts_in_words(plan, changed), reason=reason
    )
    return plan


@deed
def end_plan(*, plan: CarePlan, reason: str, by: Member, at: datetime, today: date) -> CarePlan:
    """End a plan: it falls due no more. Its records stay."""
    _check_may(by)
    reason = _written(reason, field="reason", sentence=_("Say why it need not be done any more."))
    plan = _lock(plan)
    if plan.is_ended:
        return plan
    plan.ended_on, plan.changed_at, plan.sequence = today, at, plan.sequence + 1
    plan.save()
    _write("care_ended", _("%(plan)s: ended. %(reason)s"), plan=plan, by=by, at=at, reason=reason)
    return plan


@deed
def record_care(
    *,
    plan: CarePlan,
    done_on: date,
    done_by_name: str,
    passed: bool,
    note: str,
    next_due_on: date | None,
    by: Member,
    at: datetime,
    today: date,
    seen: int | None = None,
    form_key: uuid.UUID | None = None,
    finding: str = "",
) -> CareRecord:
    """Record that a service or a safety test was done, and when it is due again: by its interval where nobody says.

    `finding` is what readings say of a test that failed; it goes into the fault, before the note.

    A test that failed sets the machine aside in the same transaction, and is due again at once: until it is recorded as
    passed, the fault being mended is not enough. A form sent twice is one record.
    """
    _check_may(by)
    done_by_name = _written(done_by_name, field="done_by_name", sentence=_("Say who did it, by name."))
    note = note.strip()
    plan = _lock(plan)
    said = f"{by.pk} {plan.pk} {done_on} {done_by_name} {passed} {note} {next_due_on}"
    key = uuid.uuid5(form_key, said) if form_key else uuid.uuid4()
    recorded_before = CareRecord.objects.filter(key=key).first()
    if recorded_before is not None:
        return recorded_before
    logbook.check_unchanged(plan, seen=seen, by_deeds=CHANGES)
    _check_in_force(plan)
    _check_may_be_done(plan, done_on, today)
    record = CareRecord(
        key=key, plan=plan, done_on=done_on, done_by_name=done_by_name, passed=passed, note=note, by=by, at=at
    )
    if passed or not plan.is_test:
        record.passed, record.next_due_on = True, _next_day(plan, done_on, next_due_on)
    else:
        record.next_due_on = min(plan.due_on, done_on)
        record.fault = _fault_of(record, finding, by=by, at=at)
    _keep(record, at=at)
    return record


@deed
def have_calendar() -> UpkeepCalendar:
    """The row that holds the address of the upkeep calendar; made without an address where there is none yet."""
    return UpkeepCalendar.objects.get_or_create(pk=1, defaults={"feed_token": None})[0]


def _check_may(by: Member) -> None:
    if not eligibility.mends(by):
        raise NotTheirs


def _check_in_force(plan: CarePlan) -> None:
    if plan.is_ended:
        raise PlanEnded(plan=plan)


def _check_may_be_done(plan: CarePlan, done_on: date, today: date) -> None:
    if done_on > today:
        raise NotDoneYet(day=done_on)
    if done_on < FIRST_DAY:
        raise DayNotSensible(field="done_on")
    last = plan.records.order_by("-done_on", "-pk").first()
    if last is not None and last.done_on > done_on:
        raise DoneSince(day=last.done_on)


def _next_day(plan: CarePlan, done_on: date, next_due_on: date | None) -> date:
    if next_due_on is None:
        return next_due(done_on, plan.interval)
    if next_due_on <= done_on:
        raise DueTooSoon(done_on=done_on)
    if next_due_on > LAST_DAY:
        raise DayNotSensible(field="next_due_on")
    return next_due_on


def _fault_of(record: CareRecord, finding: str, *, by: Member, at: datetime) -> Fault:
    """The fault that sets the machine aside, since its test failed."""
    words = {"test": record.plan.name, "day": day_with_year(record.done_on), "who": record.done_by_name}
    note = _("“%(test)s” failed on %(day)s, tested by %(who)s.") % words
    return upkeep.report_fault(
        machine=record.plan.machine,
        part=None,
        note=" ".join(part for part in (note, finding, record.note) if part),
        severity=Severity.STOPS_USE,
        by=by,
        at=at,
        form_key=record.key,
    )


def _keep(record: CareRecord, *, at: datetime) -> None:
    """Save the record, move the plan's due day, and write both down."""
    plan = record.plan
    record.due_before_on = plan.due_on
    record.save()
    if plan.due_on != record.next_due_on:
        plan.due_on, plan.sequence = record.next_due_on, plan.sequence + 1
    plan.changed_at = at
    plan.save()
    if record.passed:
        what = _("passed") if plan.is_test else _("done")
        text = _("%(plan)s: %(what)s on %(day)s, by %(who)s. Due next on %(due)s. %(note)s")
    else:
        what = _("failed")
        text = _("%(plan)s: %(what)s on %(day)s, by %(who)s. %(machine)s is set aside. %(note)s")
    words = {"day": day_with_year(record.done_on), "who": record.done_by_name, "what": what, "note": record.note}
    _write("care_recorded", text, plan=plan, by=record.by, at=at, **words)


def _lock(plan: CarePlan) -> CarePlan:
    """The plan as it stands now, nobody else's until this transaction ends: its machine is locked first."""
    machine = lock_machine(plan.machine_id)
    current = CarePlan.objects.get(pk=plan.pk)
    current.machine = machine
    return current


def _save(plan: CarePlan) -> None:
    """Save a plan whose facts make sense; says so in words where they do not."""
    plan.name = _written(plan.name, field="name", sentence=_("Give it a name."))
    try:
        Interval(plan.every, Unit(plan.unit))
    except ValueError:
        raise IntervalNotSensible from None
    if not FIRST_DAY <= plan.due_on <= LAST_DAY:
        raise DayNotSensible(field="due_on")
    check_limits(plan)
    try:
        with transaction.atomic():
            plan.save()
    except IntegrityError:
        raise PlanNameTaken(name=plan.name, machine=plan.machine) from None


def _written(text: str, *, field: str, sentence: str) -> str:
    text = text.strip()
    if not text:
        raise NothingWritten(field=field, sentence=sentence)
    return text


def _write(word: str, sentence: str, *, plan: CarePlan, by: Member, at: datetime, **words: str) -> None:
    told = {
        "plan": str(plan),
        "machine": plan.machine.name,
        "interval": often_in_words(plan),
        "due": day_with_year(plan.due_on),
    }
    text = (sentence % (told | words)).strip()
    logbook.write(deed=word, text=text, about=[plan, plan.machine, plan.machine.kit], by=by, at=at)
