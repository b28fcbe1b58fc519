"""What one row means here: whose booking it would be, of which machines, on which days, at which stage."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings.actions import weigh
from kitshare.bookings.models import AHEAD, HOLDING, Booking, Stage
from kitshare.bookings.refusals import FruitNotSensible
from kitshare.bringing.cells import NotUnderstood
from kitshare.bringing.naming import Names
from kitshare.bringing.rows import Row
from kitshare.kits.models import Machine
from kitshare.people.models import Member, Scheme, Village
from kitshare.rules import periods
from kitshare.rules.periods import Period

# Names keys for references that are no UUID, and for rows without one: the same row twice is the same booking.
OURS: Final = uuid.UUID("5c0d9a0e-6f0b-4f0e-9c35-2d1c6f2b7a11")
OVER: Final = (Stage.BACK, Stage.CLOSED)


class Standing(StrEnum):
    """What would become of a row."""

    MAKE = "make"
    HERE = "here"
    ASIDE = "aside"
    CLASH = "clash"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What holds for every row that does not say it itself, and how fruit is weighed."""

    coming_as: Stage
    fruit_kg: Decimal | None
    scheme: Scheme
    today: date


@dataclass(slots=True, kw_only=True, eq=False)
class Verdict:
    """A row and what was made of it. `words` say why it cannot be, or what was taken for granted."""

    row: Row
    standing: Standing = Standing.MAKE
    words: list[str] = field(default_factory=list)
    uid: uuid.UUID | None = None
    village: Village | None = None
    borrower: Member | None = None
    machines: list[Machine] = field(default_factory=list)
    period: Period | None = None
    out_time: time = time(10)
    back_time: time = time(9)
    stage: Stage = Stage.AGREED
    fruit_amount: Decimal = Decimal(0)
    fruit_unit: str = "kg"
    fruit_kg: Decimal = Decimal(0)
    booking: Booking | None = None
    takes_from: "Verdict | None" = None  # the row that hands the machines straight to this one
    hands_on: bool = False  # another row takes them straight from this one

    def is_ahead(self, today: date) -> bool:
        """Whether the kit is still to leave, on days that are not over."""
        return self.stage in AHEAD and self.period is not None and self.period.end > today

    def booked_days(self, today: date) -> tuple[date, ...]:
        """The days on which the machines are with the village: none any more after an early return."""
        if self.period is None or self.stage in {Stage.DECLINED, Stage.CALLED_OFF}:
            return ()
        end = min(self.period.end, max(today, self.period.start + periods.ONE_DAY))
        return tuple((Period(start=self.period.start, end=end) if self.stage in OVER else self.period).days)

    def care_days(self, machine: Machine, today: date) -> tuple[date, ...]:
        booked = self.booked_days(today)
        if not booked or self.hands_on:
            return ()
        care = periods.care_period(Period(start=booked[0], end=booked[-1] + periods.ONE_DAY), machine.kit.care_days)
        return tuple(care.days) if care else ()

    @property
    def holds(self) -> bool:
        return self.stage in HOLDING

    def refuse(self, standing: Standing, *words: str) -> None:
        self.standing = standing
        self.words.extend(words)


def understand(row: Row, *, names: Names, terms: Terms) -> Verdict:
    """The row by our own villages, members and machines. What is not understood is said, all of it at once."""
    found = Verdict(row=row, uid=uid_of_reference(row.reference))
    if row.aside:
        found.refuse(Standing.ASIDE, row.aside)
        return found
    problems = [*row.problems, *_days(found, terms), *_who_and_what(found, names), *_fruit(found, terms)]
    found.words.extend(row.remarks)
    if found.period is not None:
        problems += _stage(found, terms)
    if problems:
        found.words.clear()
        found.refuse(Standing.UNCLEAR, *problems)
    elif found.uid is None:
        found.uid = _uid_of_words(found)
    return found


def _days(found: Verdict, terms: Terms) -> Iterator[str]:
    row = found.row
    if row.out_on is None or row.back_on is None:
        if not row.problems:
            yield _("Give the day it goes out and the day it is back.")
    elif row.back_on <= row.out_on:
        yield _("It is back by the morning of a day after the one it goes out on.")
    else:
        found.period = Period(start=row.out_on, end=row.back_on)
    found.out_time, found.back_time = row.out_time or terms.scheme.out_time, row.back_time or terms.scheme.back_time


def _who_and_what(found: Verdict, names: Names) -> Iterator[str]:
    row = found.row
    try:
        if row.village or row.said:
            found.village = names.village(row.village) if row.village else names.village_in(row.said)
        elif not row.problems:
            yield _("Give the village.")
    except NotUnderstood as problem:
        yield str(problem)
    try:
        for name in row.machines:
            found.machines += [one for one in names.machines_named(name) if one not in found.machines]
        if not row.machines and row.said:
            found.machines = names.machines_in(row.said)
        elif not found.machines and not row.problems:
            yield _("Give the machines, or the kit.")
    except NotUnderstood as problem:
        yield str(problem)
    if found.village is not None:
        yield from _who_signs(found, found.village, names)


def _who_signs(found: Verdict, village: Village, names: Names) -> Iterator[str]:
    signing = names.signing_now[village.pk]
    words = {"village": village.name, "names": ", ".join(member.name for member in signing)}
    if found.row.borrower:
        try:
            found.borrower = names.borrower(found.row.borrower, village)
        except NotUnderstood as problem:
            yield str(problem)
    elif len(signing) == 1:
        found.borrower = signing[0]
    elif signing:
        yield _("Say who signs for %(village)s: %(names)s.") % words
    else:
        yield _("Nobody signs for %(village)s yet. Add a borrower on its page.") % words


def _fruit(found: Verdict, terms: Terms) -> Iterator[str]:
    amount, unit = found.row.fruit_amount, found.row.fruit_unit
    if amount is None and terms.fruit_kg is not None:
        amount, unit = terms.fruit_kg, "kg"
        found.words.append(_("Fruit not given: %(kg)s kg taken.") % {"kg": f"{amount.normalize():f}"})
    if amount is None:
        if not found.row.problems:
            yield _("Give the fruit, or send the file again with an amount for every row that has none.")
        return
    try:
        found.fruit_amount, found.fruit_kg = weigh(amount=amount, unit=unit, scheme=terms.scheme)
    except FruitNotSensible as problem:
        yield str(problem)
    found.fruit_unit = unit


def _stage(found: Verdict, terms: Terms) -> Iterator[str]:
    """The stage that the file gives; else what is over is closed, and what is to come is as the terms say."""
    assert found.period is not None  # noqa: S101
    is_over = found.period.end <= terms.today
    found.stage = Stage(found.row.stage) if found.row.stage else (Stage.CLOSED if is_over else terms.coming_as)
    words = {"stage": found.stage.label}
    # Kits are often fetched on the evening before.
    eve = periods.ONE_DAY if found.stage == Stage.OUT else timedelta(0)
    if found.stage == Stage.WAITING:
        yield _("The waiting list is not brought in from a file: ask for the days, and wait for them from there.")
    elif found.stage in {Stage.OUT, *OVER} and found.period.start > terms.today + eve:
        yield _("Its first day is still to come, so it cannot be %(stage)s.") % words
    elif found.stage == Stage.ASKED and is_over:
        # The site ends what nobody answered in time, and tells everybody: history must not set that going.
        yield _("Asked, and its days are over: say what became of it, such as closed, declined or called off.")
    elif found.stage == Stage.AGREED and is_over:
        found.words.append(
            _("%(stage)s, and its days are over: call it off later, or say here what became of it.") % words
        )


def uid_of_reference(text: str) -> uuid.UUID | None:
    """The key that a reference stands for: our own, or one made from whatever somebody else calls it."""
    if not text:
        return None
    try:
        return uuid.UUID(text.removesuffix("@kitshare"))
    except ValueError:
        return uuid.uuid5(OURS, f"reference {text}")


def _uid_of_words(found: Verdict) -> uuid.UUID:
    machines = sorted(machine.pk for machine in found.machines)
    village, borrower = found.village and found.village.pk, found.borrower and found.borrower.pk
    return uuid.uuid5(OURS, f"row {village} {borrower} {machines} {found.period}")
