"""Works out who should hear what, and has not heard it yet. It only reads."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.db.models import Q
from django.utils.translation import gettext as _

from kitshare.bookings import lateness
from kitshare.bookings.models import AHEAD, Booking, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.words import test_first_in_words
from kitshare.outbox.models import Message
from kitshare.people.models import Member, Scheme
from kitshare.reminders.letters import Letter, letter, short_day, thread_of
from kitshare.rules.servicing import NOTICE
from kitshare.upkeep import fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.models import Fault

# Reminders of a day are written from this hour on, in the scheme's own time: nobody is woken by one.
FROM_HOUR: Final = 7
# An overdue return is asked after on so many days; then it is for the coordinator to ring.
OVERDUE_DAYS: Final = 3
RELAYS: Final = (
    *("relay_from__first__village", "relay_from__first__borrower"),
    *("relay_onwards__second__village", "relay_onwards__second__borrower"),
)


def letters_due(*, scheme: Scheme, at: datetime) -> list[Letter]:
    """Every letter that is due at a moment and whose key the outbox does not hold."""
    local = at.astimezone(scheme.zone)
    bookings = list(_bookings_of_interest(local.date()))
    desk = _Desk(
        scheme=scheme,
        today=local.date(),
        coordinators=list(Member.objects.coordinating()),
        told=_told(bookings),
        faults=_stopping_faults(bookings),
        tests=_tests_of(bookings, local.date()),
        waits=lateness.waits(local.date()),
        out=frozenset(booking.pk for booking in bookings if booking.stage == Stage.OUT),
    )
    letters = [one for booking in bookings for one in (*desk.of_risk(booking), *desk.of_lateness(booking))]
    if local.hour >= FROM_HOUR:
        for booking in bookings:
            letters += desk.of_tests(booking)
            letters += [*desk.of_pickup(booking), *desk.of_relay(booking), *desk.of_return(booking)]
    return letters


def _bookings_of_interest(today: date) -> Iterator[Booking]:
    """Bookings still to go out, and those that should come back by today. Both are few, however long the history."""
    still_to_go = Q(stage__in=AHEAD, out_on__gte=today)
    to_come_back = Q(stage=Stage.OUT, back_on__lte=today + timedelta(days=1))
    bookings = Booking.objects.filter(still_to_go | to_come_back).select_related("village", "borrower", *RELAYS)
    return iter(bookings.prefetch_related("machines__kit__depot").order_by("out_on", "pk"))


def _told(bookings: list[Booking]) -> frozenset[str]:
    threads = [thread_of(booking) for booking in bookings]
    return frozenset(Message.objects.filter(thread__in=threads).values_list("key", flat=True))


def _stopping_faults(bookings: list[Booking]) -> dict[int, list[Fault]]:
    """The faults that stop each machine which is still to go out, by machine."""
    machines = {machine for booking in bookings if booking.is_ahead for machine in booking.machines.all()}
    return fitness.faults_by_machine(machines)


def _tests_of(bookings: list[Booking], today: date) -> dict[int, list[CarePlan]]:
    """The safety tests due in the next weeks of each machine which is still to go out, by machine."""
    machines = {machine for booking in bookings if booking.is_ahead for machine in booking.machines.all()}
    tests: dict[int, list[CarePlan]] = {}
    for plan in fitness.overdue_tests(machines, on=today + NOTICE):
        tests.setdefault(plan.machine_id, []).append(plan)
    return tests


def _pending(booking: Booking, end: str) -> Relay | None:
    """The relay at one end of a booking, if there is one that is still to come."""
    relay: Relay | None = getattr(booking, end, None)
    return relay if relay is not None and relay.done_at is None else None


def _whole(relay: Relay, booking: Booking) -> Relay:
    """The relay with both its bookings at hand: the one from which it was read is not read again."""
    if relay.first.pk == booking.pk:
        relay.first = booking
    else:
        relay.second = booking
    return relay


@dataclass(frozen=True, slots=True)
class _Desk:
    """Where letters are written: what there is to know, looked up once for all bookings."""

    scheme: Scheme
    today: date
    coordinators: list[Member]
    told: frozenset[str]
    faults: dict[int, list[Fault]]
    tests: dict[int, list[CarePlan]]
    waits: list[lateness.Wait]
    out: frozenset[int]

    def of_pickup(self, booking: Booking) -> Iterator[Letter]:
        """On the day before; and on the day itself if no round ran then, or if it was agreed as late as that."""
        if booking.stage != Stage.AGREED or not self._is_near(booking.out_on) or _pending(booking, "relay_from"):
            return
        yield from self._write(
            "pickup",
            key=f"pickup-tomorrow:{booking.pk}:{booking.out_on}",
            to=[booking.borrower],
            subject=_("Pickup on %(day)s, %(village)s")
            % {"day": short_day(booking.out_on), "village": booking.village.name},
            booking=booking,
            stopped=sorted(
                {fault.machine.name for fault in self._faults_of(booking)}
                | {plan.machine.name for plan in self._tests_before(booking)}
            ),
        )

    def of_relay(self, booking: Booking) -> Iterator[Letter]:
        """To each of the two villages of its own: where it hands on, and where it takes on. As with a pickup."""
        into, onwards = _pending(booking, "relay_from"), _pending(booking, "relay_onwards")
        both = [(into, booking.stage == Stage.AGREED), (onwards, booking.stage in {Stage.AGREED, Stage.OUT})]
        for relay, is_open in both:
            day = booking.out_on if relay is into else booking.back_on
            if relay is None or not is_open or not self._is_near(day):
                continue
            yield from self._write(
                "relay",
                key=f"relay-tomorrow:{relay.pk}:{day}:{booking.pk}",
                to=[booking.borrower],
                subject=_("Relay on %(day)s, %(village)s") % {"day": short_day(day), "village": booking.village.name},
                booking=booking,
                relay=_whole(relay, booking),
                other=relay.first if relay is into else relay.second,
                hands_over=relay is onwards,
                stopped=sorted({fault.machine.name for fault in self._faults_of(booking)}),
            )

    def of_return(self, booking: Booking) -> Iterator[Letter]:
        if booking.stage != Stage.OUT:
            return
        words = {"day": short_day(booking.back_on), "village": booking.village.name}
        onwards = _pending(booking, "relay_onwards")
        if booking.back_on == self.today and onwards is None:
            yield from self._write(
                "return_due",
                key=f"return-due:{booking.pk}:{booking.back_on}",
                to=[booking.borrower],
                subject=_("Return due on %(day)s, %(village)s") % words,
                booking=booking,
            )
        elif booking.back_on < self.today:
            asked = min((self.today - booking.back_on).days, OVERDUE_DAYS)
            yield from self._write(
                "return_overdue",
                key=f"return-overdue:{booking.pk}:{booking.back_on}:{asked}",
                to=self._with_coordinators(booking.borrower),
                subject=_("Not back yet: %(village)s, due on %(day)s") % words,
                booking=booking,
                second=onwards.second if onwards else None,
            )

    def of_risk(self, booking: Booking) -> Iterator[Letter]:
        """A warning for each fault that stops the booking, and one letter when nothing stops it any longer.

        Warnings and all-clears come in rounds, so that a fault graded down and up again is told again.
        """
        if not booking.is_ahead:
            return
        faults = self._faults_of(booking)
        cleared = {key.split(":")[2] for key in self.told if key.startswith(f"fit-again:{booking.pk}:")}
        nth = len(cleared) + 1
        words = {"day": short_day(booking.out_on), "village": booking.village.name}
        for fault in faults:
            yield from self._write(
                "at_risk",
                key=f"booking-at-risk:{booking.pk}:{nth}:{fault.pk}",
                to=self._with_coordinators(booking.borrower),
                subject=_("At risk: %(village)s, %(day)s: %(machine)s is set aside")
                % (words | {"machine": fault.machine.name}),
                booking=booking,
                fault=fault,
            )
        warned = {
            int(key.rpartition(":")[2]) for key in self.told if key.startswith(f"booking-at-risk:{booking.pk}:{nth}:")
        }
        if warned and not faults:
            yield from self._write(
                "fit_again",
                key=f"fit-again:{booking.pk}:{nth}",
                to=[member for member in self._with_coordinators(booking.borrower) if member.pk in warned],
                subject=_("No longer at risk: %(village)s, %(day)s") % words,
                booking=booking,
            )

    def of_tests(self, booking: Booking) -> Iterator[Letter]:
        """A warning for each safety test that comes before an outing which is near, once; and a letter when it is done.

        Further ahead nobody is alarmed: a test is mostly done in time, and those who do it are reminded.
        """
        if not booking.is_ahead or booking.out_on > self.today + NOTICE:
            return
        words = {"day": short_day(booking.out_on), "village": booking.village.name}
        first = self._tests_before(booking)
        for plan in first:
            yield from self._write(
                "test_first",
                key=f"booking-at-risk:{booking.pk}:test:{plan.pk}:{plan.due_on}",
                to=self._with_coordinators(booking.borrower),
                subject=_("At risk: %(village)s, %(day)s: a safety test comes first") % words,
                booking=booking,
                sentence=test_first_in_words(plan, out_on=booking.out_on, today=self.today),
            )
        begins, waited_for = f"booking-at-risk:{booking.pk}:test:", {str(plan.pk) for plan in first}
        warned = {key.removeprefix(begins).rpartition(":")[::2] for key in self.told if key.startswith(begins)}
        for test, member in sorted(warned):
            if test.partition(":")[0] not in waited_for:
                yield from self._write(
                    "test_done",
                    key=f"test-done:{booking.pk}:{test}",
                    to=[one for one in self._with_coordinators(booking.borrower) if one.pk == int(member)],
                    subject=_("No longer at risk: %(village)s, %(day)s") % words,
                    booking=booking,
                )

    def of_lateness(self, booking: Booking) -> Iterator[Letter]:
        """A warning to the village that waits for a late kit, once; and one letter when it is back."""
        if not booking.is_ahead:
            return
        words = {"day": short_day(booking.out_on), "village": booking.village.name}
        for wait in self.waits:
            if wait.booking.pk == booking.pk:
                yield from self._write(
                    "late_before",
                    key=f"late-before:{booking.pk}:{wait.late.pk}",
                    to=[booking.borrower],
                    subject=_("At risk: %(village)s, %(day)s: the kit is not back") % words,
                    booking=booking,
                    wait=wait,
                )
        warned = {key.split(":")[2] for key in self.told if key.startswith(f"late-before:{booking.pk}:")}
        for late in sorted(warned, key=int):
            if int(late) not in self.out:
                yield from self._write(
                    "late_is_back",
                    key=f"late-is-back:{booking.pk}:{late}",
                    to=[booking.borrower],
                    subject=_("No longer at risk: %(village)s, %(day)s") % words,
                    booking=booking,
                )

    def _is_near(self, day: date) -> bool:
        return self.today <= day <= self.today + timedelta(days=1)

    def _faults_of(self, booking: Booking) -> list[Fault]:
        found = (fault for machine in booking.machines.all() for fault in self.faults.get(machine.pk, []))
        return list({fault.pk: fault for fault in found}.values())

    def _tests_before(self, booking: Booking) -> list[CarePlan]:
        tests = [plan for machine in booking.machines.all() for plan in self.tests.get(machine.pk, [])]
        return [plan for plan in tests if fitness.will_be_overdue(plan, out_on=booking.out_on, today=self.today)]

    def _with_coordinators(self, borrower: Member) -> list[Member]:
        return [borrower, *(member for member in self.coordinators if member != borrower)]

    def _write(
        self, name: str, *, key: str, to: list[Member], subject: str, booking: Booking, **words: object
    ) -> Iterator[Letter]:
        for member in to:
            own_key = f"{key}:{member.pk}"
            if own_key not in self.told:
                yield letter(
                    name, key=own_key, to=member, subject=subject, booking=booking, scheme=self.scheme, **words
                )
