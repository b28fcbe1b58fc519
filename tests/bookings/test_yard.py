"""A season in the yard, in any order: no machine is held twice on a day, and none that is set aside goes out.

Beside the site runs a simple model: who holds which machine on which day, and which machines are set aside. Each deed
must end as the model says, and after each the rows must be the model's.
"""

from collections import Counter
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from kitshare.bookings import actions as bookings
from kitshare.bookings.models import BookedDay, Booking, DayKind, Season, Stage
from kitshare.bookings.refusals import (
    BookingRefused,
    DayIsPast,
    KitUnfit,
    MachineStillOut,
    MachineTaken,
    NotAtThisStage,
)
from kitshare.kits.models import Depot, Kit, Machine
from kitshare.people.models import Member, Scheme, Village
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault

FIRST = date(2027, 9, 1)
CARE_DAYS = (0, 1, 3)
AHEAD = {Stage.ASKED, Stage.AGREED}

some_machines = st.sets(st.sampled_from(range(len(CARE_DAYS))), min_size=1, max_size=2)
some_start = st.integers(-1, 7)
some_length = st.integers(1, 3)


def days_from(start, end):
    return [start + timedelta(days=step) for step in range((end - start).days)]


class Yard(RuleBasedStateMachine):
    @initialize()
    def lay_out(self):
        Scheme.objects.create(pk=1, name="Yard", telephone="01632 960 123")
        Season.objects.create(name="Yard", opens_on=FIRST, closes_on=FIRST + timedelta(days=900))
        depot = Depot.objects.create(name="Shed")
        self.machines = [
            Machine.objects.create(
                kit=Kit.objects.create(name=f"Kit {care}", depot=depot, care_days=care),
                name=f"Mill {care}",
                kind="mill",
            )
            for care in CARE_DAYS
        ]
        self.coordinator = Member.objects.create(name="Perpetua", email="p@example.org", coordinates=True)
        self.maintainer = Member.objects.create(name="Teodor", email="t@example.org", maintains=True)
        self.borrower = Member.objects.create(name="Sunniva", email="s@example.org", borrows=True)
        self.village = Village.objects.create(name="Sorrelhythe")
        self.village.borrowers.add(self.borrower)
        self.today = FIRST
        self.held = {}  # (machine, day): (booking, kind)
        self.stages = {}
        self.unfit = Counter()

    def __init__(self):
        super().__init__()
        self.stages = {}
        self.unfit = Counter()
        self.undone_afterwards = transaction.atomic()
        self.undone_afterwards.__enter__()

    def teardown(self):
        transaction.set_rollback(True)
        self.undone_afterwards.__exit__(None, None, None)

    @property
    def now(self):
        return datetime(self.today.year, self.today.month, self.today.day, 9, tzinfo=UTC)

    # What the model expects

    def rows(self, machines, start, end):
        """The days wanted of each machine, its care days included."""
        return {
            (number, day): DayKind.BOOKED if day < end else DayKind.CARE
            for number in machines
            for day in days_from(start, end + timedelta(days=CARE_DAYS[number]))
        }

    def why_not(self, machines, start, end, own=None, machines_are_new=True):
        """The refusal that awaits these machines on these days, if any; a machine had already may wait for its mending."""
        if machines_are_new and any(self.unfit[number] for number in machines):
            return KitUnfit
        wanted = self.rows(machines, start, end)
        if any(pair in self.held and self.held[pair][0] != own for pair in wanted):
            return MachineTaken
        return None

    def hold(self, booking, rows):
        self.held |= {pair: (booking, kind) for pair, kind in rows.items()}

    def set_free(self, booking):
        self.held = {pair: holder for pair, holder in self.held.items() if holder[0] != booking}

    def numbers_of(self, booking):
        return {self.machines.index(machine) for machine in booking.machines.all()}

    def at_stage(self, *stages):
        return [key for key, stage in self.stages.items() if stage in stages]

    def one_of(self, data, keys):
        return Booking.objects.get(pk=data.draw(st.sampled_from(keys)))

    def attempt(self, expected, deed):
        """Do it; whether it was done, as the model expects."""
        try:
            with transaction.atomic():
                done = deed()
        except BookingRefused as refusal:
            assert type(refusal) is expected  # noqa: PT017
            return None
        assert expected is None
        return done

    # Deeds

    @rule(machines=some_machines, start=some_start, length=some_length)
    def book(self, machines, start, length):
        out_on = self.today + timedelta(days=start)
        back_on = out_on + timedelta(days=length)
        expected = DayIsPast if out_on < self.today else self.why_not(machines, out_on, back_on)

        booking = self.attempt(
            expected,
            lambda: bookings.book_kit(
                village=self.village,
                borrower=self.borrower,
                machines=[self.machines[number] for number in machines],
                period=Period(start=out_on, end=back_on),
                fruit_amount=Decimal(100),
                fruit_unit="kg",
                note="",
                by=self.borrower,
                at=self.now,
                today=self.today,
            ),
        )
        if booking is not None:
            self.hold(booking.pk, self.rows(machines, out_on, back_on))
            self.stages[booking.pk] = Stage.ASKED

    def agree(self, booking):
        key = booking.pk
        expected = None
        if self.stages[key] != Stage.ASKED:
            expected = NotAtThisStage
        elif booking.back_on <= self.today:
            expected = DayIsPast
        elif any(self.unfit[number] for number in self.numbers_of(booking)):
            expected = KitUnfit
        signed = {"by": self.coordinator, "at": self.now, "today": self.today, "revision": booking.revision}
        if self.attempt(expected, lambda: bookings.agree(booking=booking, **signed)):
            self.stages[key] = Stage.AGREED

    def change(self, booking, machines, start, length):
        key = booking.pk
        out_on = self.today + timedelta(days=start)
        back_on = out_on + timedelta(days=length)
        other_days = (out_on, back_on) != (booking.out_on, booking.back_on)
        is_moved = other_days or machines != self.numbers_of(booking)
        expected = None
        if self.stages[key] not in AHEAD:
            expected = NotAtThisStage
        elif other_days and out_on < self.today:
            expected = DayIsPast
        elif is_moved:
            machines_are_new = machines != self.numbers_of(booking)
            expected = self.why_not(machines, out_on, back_on, own=key, machines_are_new=machines_are_new)

        changed = self.attempt(
            expected,
            lambda: bookings.change_booking(
                booking=booking,
                machines=[self.machines[number] for number in machines],
                period=Period(start=out_on, end=back_on),
                fruit_amount=booking.fruit_amount,
                fruit_unit=booking.fruit_unit,
                note=booking.note,
                by=self.coordinator,
                at=self.now,
                today=self.today,
                revision=booking.revision,
            ),
        )
        if changed and is_moved:
            self.set_free(key)
            self.hold(key, self.rows(machines, out_on, back_on))

    def call_off(self, booking):
        key = booking.pk
        expected = None if self.stages[key] in AHEAD else NotAtThisStage
        signed = {"reason": "", "by": self.borrower, "at": self.now, "revision": booking.revision}
        if self.attempt(expected, lambda: bookings.call_off(booking=booking, **signed)):
            self.stages[key] = Stage.CALLED_OFF
            self.set_free(key)

    def mark_out(self, booking):
        key = booking.pk
        numbers = self.numbers_of(booking)
        early = {(number, day) for number in numbers for day in days_from(self.today, booking.out_on)}
        away = {
            number
            for other, stage in self.stages.items()
            if stage == Stage.OUT
            for number in self.numbers_of(Booking.objects.get(pk=other))
        }
        expected = None
        if self.stages[key] != Stage.AGREED:
            expected = NotAtThisStage
        elif booking.back_on <= self.today:
            expected = DayIsPast
        elif any(self.unfit[number] for number in numbers):
            expected = KitUnfit
        elif numbers & away:
            expected = MachineStillOut
        elif any(self.held[pair][1] == DayKind.BOOKED for pair in early & self.held.keys()):
            expected = MachineTaken
        if self.attempt(expected, lambda: bookings.mark_out(booking=booking, by=self.borrower, at=self.now)):
            self.stages[key] = Stage.OUT
            self.hold(key, dict.fromkeys(early - self.held.keys(), DayKind.BOOKED))

    def mark_back(self, booking):
        key = booking.pk
        expected = None if self.stages[key] == Stage.OUT else NotAtThisStage
        signed = {"by": self.borrower, "at": self.now, "today": self.today}
        if self.attempt(expected, lambda: bookings.mark_back(booking=booking, **signed)):
            self.stages[key] = Stage.BACK
            self.set_free(key)
            returned_on = max(self.today, booking.out_on + timedelta(days=1))
            rows = self.rows(self.numbers_of(booking), booking.out_on, returned_on)
            self.hold(key, {pair: kind for pair, kind in rows.items() if pair not in self.held})

    # What happens next, in any order

    @precondition(lambda self: self.at_stage(Stage.ASKED))
    @rule(data=st.data())
    def agree_one_asked(self, data):
        self.agree(self.one_of(data, self.at_stage(Stage.ASKED)))

    @precondition(lambda self: self.at_stage(*AHEAD))
    @rule(data=st.data(), machines=some_machines, start=some_start, length=some_length)
    def change_one_ahead(self, data, machines, start, length):
        self.change(self.one_of(data, self.at_stage(*AHEAD)), machines, start, length)

    @precondition(lambda self: len(self.at_stage(*AHEAD)) > 2)
    @rule(data=st.data())
    def call_one_off(self, data):
        self.call_off(self.one_of(data, self.at_stage(*AHEAD)))

    @precondition(lambda self: self.at_stage(Stage.AGREED))
    @rule(data=st.data(), on_its_day=st.booleans())
    def hand_one_over(self, data, on_its_day):
        booking = self.one_of(data, self.at_stage(Stage.AGREED))
        if on_its_day:
            self.today = max(self.today, booking.out_on)
        self.mark_out(booking)

    @precondition(lambda self: self.at_stage(Stage.OUT))
    @rule(data=st.data(), days=st.integers(0, 3))
    def take_one_back(self, data, days):
        self.today += timedelta(days=days)
        self.mark_back(self.one_of(data, self.at_stage(Stage.OUT)))

    @precondition(lambda self: self.stages)
    @rule(data=st.data(), deed=st.sampled_from(["agree", "call_off", "mark_out", "mark_back"]))
    def try_out_of_turn(self, data, deed):
        getattr(self, deed)(self.one_of(data, list(self.stages)))

    @precondition(lambda self: not self.unfit.total() and self.at_stage(*AHEAD))
    @rule(number=st.sampled_from(range(len(CARE_DAYS))))
    def report_fault(self, number):
        upkeep.report_fault(
            machine=self.machines[number],
            part=None,
            note="The drive pin is bent.",
            severity=Severity.STOPS_USE,
            by=self.borrower,
            at=self.now,
        )
        self.unfit[number] += 1

    @precondition(lambda self: self.unfit.total())
    @rule()
    def mend_and_release(self):
        fault = Fault.objects.open().get()
        signed = {"by": self.maintainer, "at": self.now}
        fault = upkeep.mend_fault(fault=fault, note="New pin.", revision=fault.revision, **signed)
        upkeep.release_fault(fault=fault, retest_note="Ran it empty.", revision=fault.revision, **signed)
        self.unfit.clear()

    # What stays true

    @invariant()
    def the_rows_are_the_models(self):
        if not hasattr(self, "held"):
            return
        rows = BookedDay.objects.values_list("machine_id", "day", "booking_id", "kind")
        numbers = {machine.pk: number for number, machine in enumerate(self.machines)}
        assert len(rows) == len(self.held)
        assert {(numbers[machine], day): (booking, kind) for machine, day, booking, kind in rows} == self.held

    @invariant()
    def every_booking_ahead_has_all_its_days(self):
        if not hasattr(self, "held"):
            return
        for booking in Booking.objects.filter(stage__in=AHEAD).prefetch_related("machines"):
            for number in self.numbers_of(booking):
                for day in days_from(booking.out_on, booking.back_on):
                    assert self.held[number, day] == (booking.pk, DayKind.BOOKED)

    @invariant()
    def no_machine_is_in_two_places(self):
        out = Booking.objects.filter(stage=Stage.OUT).values_list("machines", flat=True)
        assert max(Counter(out).values(), default=0) <= 1


@pytest.mark.django_db
@pytest.mark.one_engine  # one deed after the other: what two do at once is tried in the races, on both
def test_no_machine_is_held_twice_and_no_unfit_machine_goes_out():
    quiet = settings(
        max_examples=15,
        stateful_step_count=40,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(Yard, settings=quiet)
