"""Works out what is told as soon as it is known, and that it is over. It only reads."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings import lateness
from kitshare.bookings.models import Booking, Stage
from kitshare.outbox.models import Message
from kitshare.people.models import Member
from kitshare.reminders.ground import Ground
from kitshare.reminders.letters import Letter, letter, short_day, thread_of
from kitshare.reminders.models import Kind, ReminderRow
from kitshare.reminders.of_care import page_of_plan, thread_of_plan
from kitshare.reminders.usual import key_of
from kitshare.upkeep import by_use
from kitshare.upkeep.by_use import ByUse
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.use_limits import amount_in_words


def told_at_once(ground: Ground) -> list[Letter]:
    """Every letter that is due now and whose key the outbox does not hold."""
    desk = _Desk(ground=ground, told=_told(ground.bookings), out=_out(ground), waits=_waits(ground))
    letters = [one for booking in ground.bookings for one in desk.of_booking(booking)]
    return [*letters, *_by_use(ground)]


def is_time(row: ReminderRow | None, ground: Ground) -> bool:
    """Whether a row is on, and its time of day has come, if it names one."""
    return row is not None and (row.at is None or ground.last.astimezone(ground.zone).time() >= row.at)


def _told(bookings: list[Booking]) -> frozenset[str]:
    threads = [thread_of(booking) for booking in bookings]
    return frozenset(Message.objects.filter(thread__in=threads).values_list("key", flat=True))


def _out(ground: Ground) -> frozenset[int]:
    return frozenset(booking.pk for booking in ground.bookings if booking.stage == Stage.OUT)


def _waits(ground: Ground) -> list[lateness.Wait]:
    return lateness.waits(ground.today) if ground.row_of(Kind.LATE_KIT) else []


@dataclass(frozen=True, slots=True, kw_only=True)
class _Desk:
    """Where warnings are written: what there is to know, looked up once for all bookings."""

    ground: Ground
    told: frozenset[str]
    out: frozenset[int]
    waits: list[lateness.Wait]

    def of_booking(self, booking: Booking) -> Iterator[Letter]:
        if not booking.is_ahead:
            return
        for kind, of_kind in (
            (Kind.FAULT, self._of_risk),
            (Kind.LATE_KIT, self._of_lateness),
            (Kind.TEST_FIRST, self._of_tests_done),
        ):
            row = self.ground.row_of(kind)
            if row is not None and is_time(row, self.ground):
                yield from of_kind(booking, row)

    def _of_risk(self, booking: Booking, row: ReminderRow) -> Iterator[Letter]:
        """A warning for each fault that stops the booking, and one letter when nothing stops it any longer.

        Warnings and all-clears come in rounds, so that a fault graded down and up again is told again.
        """
        faults = self.ground.faults_of(booking)
        cleared = {key.split(":")[2] for key in self.told if key.startswith(f"fit-again:{booking.pk}:")}
        nth = len(cleared) + 1
        for fault in faults:
            yield from self._write(
                row,
                "at_risk",
                key=f"booking-at-risk:{booking.pk}:{nth}:{fault.pk}",
                to=self._everybody(row, booking),
                subject=_("At risk: %(village)s, %(day)s: %(machine)s is set aside")
                % (_named(booking) | {"machine": fault.machine.name}),
                booking=booking,
                fault=fault,
            )
        begins = f"booking-at-risk:{booking.pk}:{nth}:"
        warned = {int(key.rpartition(":")[2]) for key in self.told if key.startswith(begins)}
        if warned and not faults:
            yield from self._write(
                row,
                "fit_again",
                key=f"fit-again:{booking.pk}:{nth}",
                to=[member for member in self._everybody(row, booking) if member.pk in warned],
                subject=_("No longer at risk: %(village)s, %(day)s") % _named(booking),
                booking=booking,
            )

    def _of_tests_done(self, booking: Booking, row: ReminderRow) -> Iterator[Letter]:
        """One letter to each who was warned of a safety test, when it is done; as long as the outing is near."""
        if booking.out_on > self.ground.today - timedelta(days=row.days or 0):
            return
        begins = f"booking-at-risk:{booking.pk}:test:"
        warned = {key.removeprefix(begins).rpartition(":")[::2] for key in self.told if key.startswith(begins)}
        waited_for = {str(plan.pk) for plan in self.ground.tests_before(booking)} if warned else set()
        for test, member in sorted(warned):
            if test.partition(":")[0] not in waited_for:
                yield from self._write(
                    row,
                    "test_done",
                    key=f"test-done:{booking.pk}:{test}",
                    to=[one for one in self._everybody(row, booking) if one.pk == int(member)],
                    subject=_("No longer at risk: %(village)s, %(day)s") % _named(booking),
                    booking=booking,
                )

    def _of_lateness(self, booking: Booking, row: ReminderRow) -> Iterator[Letter]:
        """A warning to the village that waits for a late kit, once; and one letter when it is back."""
        for wait in self.waits:
            if wait.booking.pk == booking.pk:
                yield from self._write(
                    row,
                    "late_before",
                    key=f"late-before:{booking.pk}:{wait.late.pk}",
                    to=self._everybody(row, booking),
                    subject=_("At risk: %(village)s, %(day)s: the kit is not back") % _named(booking),
                    booking=booking,
                    wait=wait,
                )
        warned = {key.split(":")[2] for key in self.told if key.startswith(f"late-before:{booking.pk}:")}
        for late in sorted(warned, key=int):
            if int(late) not in self.out:
                yield from self._write(
                    row,
                    "late_is_back",
                    key=f"late-is-back:{booking.pk}:{late}",
                    to=self._everybody(row, booking),
                    subject=_("No longer at risk: %(village)s, %(day)s") % _named(booking),
                    booking=booking,
                )

    def _everybody(self, row: ReminderRow, booking: Booking) -> list[Member]:
        return self.ground.people.of(row.addressed, booking.borrower)

    def _write(
        self,
        row: ReminderRow,
        template: str,
        *,
        key: str,
        to: list[Member],
        subject: str,
        booking: Booking,
        **words: object,
    ) -> Iterator[Letter]:
        for member in to:
            own_key = f"{key}:{member.pk}"
            if own_key not in self.told:
                yield letter(
                    row,
                    template=template,
                    key=own_key,
                    to=member,
                    subject=subject,
                    scheme=self.ground.scheme,
                    thread=thread_of(booking),
                    page=reverse("bookings:show", args=[booking.pk]),
                    words=words,
                    booking=booking,
                )


def _named(booking: Booking) -> dict[str, str]:
    return {"day": short_day(booking.out_on), "village": booking.village.name}


def _by_use(ground: Ground) -> list[Letter]:
    """Services that are due by what was done, unless they are about to fall due by their date anyway.

    One query where none goes by use. Told once between two records: the day of the last one is in the key.
    """
    row = ground.row_of(Kind.BY_USE)
    plans = []
    if row is not None and is_time(row, ground):
        found = CarePlan.objects.by_use().filter(due_on__gt=ground.days(Kind.SERVICE)[1])
        plans = list(found.select_related("machine__kit").soonest_first())
    if row is None or not plans:
        return []
    seasons = [season.period for season in ground.seasons]
    reached = [one for one in by_use.standings(plans, seasons=seasons, today=ground.today).values() if one.reached]
    letters = [_of_use(one, member, row, ground) for one in reached for member in ground.people.of(row.addressed, None)]
    told = set(Message.objects.filter(key__in=[one.key for one in letters]).values_list("key", flat=True))
    return [one for one in letters if one.key not in told]


def _of_use(found: ByUse, member: Member, row: ReminderRow, ground: Ground) -> Letter:
    limit = found.reached
    assert limit is not None  # noqa: S101
    used = amount_in_words(limit.measure, limit.used.amount)
    return letter(
        row,
        template="care_by_use",
        key=f"{key_of(row, f'{found.plan.pk}:{found.since}')}:{member.pk}",
        to=member,
        subject=_("Due after %(used)s: %(what)s") % {"what": str(found.plan), "used": used},
        scheme=ground.scheme,
        thread=thread_of_plan(found.plan),
        page=page_of_plan(found.plan),
        words={"plan": found.plan, "used": used, "every": amount_in_words(limit.measure, limit.every)},
    )
