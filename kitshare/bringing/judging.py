"""Which rows of a file would become bookings: the same judgement for the page that shows it and for the deed."""

import uuid
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from django.utils.translation import gettext as _

from kitshare.bookings.eligibility import LONGEST_DAYS
from kitshare.bookings.models import Booking, Season, Stage
from kitshare.bookings.refusals import MachineRetired, OutsideSeason, TooLong, VillageHasLeft
from kitshare.bookings.words import days_in_words, machines_in_words
from kitshare.bringing.day_table import DayTable
from kitshare.bringing.meaning import Standing, Terms, Verdict, understand
from kitshare.bringing.meeting import check_times, join_relays
from kitshare.bringing.naming import Names
from kitshare.bringing.rows import Row
from kitshare.upkeep import fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.words import day_with_year

IN_THE_WAY = (Standing.UNCLEAR, Standing.CLASH)


@dataclass(frozen=True)
class Judgement:
    """What would become of each row, in the order of the file."""

    verdicts: Sequence[Verdict]
    table: DayTable

    @cached_property
    def counts(self) -> Counter[Standing]:
        return Counter(one.standing for one in self.verdicts)

    @property
    def in_the_way(self) -> int:
        """How many rows keep the whole file from being brought in."""
        return sum(self.counts[standing] for standing in IN_THE_WAY)

    @property
    def to_make(self) -> list[Verdict]:
        return [one for one in self.verdicts if one.standing == Standing.MAKE]

    @property
    def can_be_made(self) -> bool:
        """All or nothing: nothing is in the way, and there is something to make."""
        return not self.in_the_way and bool(self.counts[Standing.MAKE])

    def nearest(self, one: Verdict) -> str:
        """The nearest free days in words, for a row that clashes; nothing where there are none to offer."""
        return "; ".join(days_in_words(spell) for spell in self.table.nearest(one))


def judge(rows: Iterable[Row], *, terms: Terms) -> Judgement:
    """Judge every row by what is here now. The number of queries does not grow with the rows."""
    names = Names()
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    verdicts = [understand(row, names=names, terms=terms) for row in rows]
    _mark_here(verdicts)
    _mark_twice(verdicts)
    for one in verdicts:
        if one.standing == Standing.MAKE:
            _check_may_be(one, names=names, seasons=seasons, today=terms.today)
    join_relays(verdicts)
    _check_whereabouts(verdicts, today=terms.today)
    check_times(verdicts, today=terms.today)
    table = DayTable(verdicts, seasons=seasons, today=terms.today)
    table.settle(verdicts)
    return Judgement(verdicts, table)


def _mark_here(verdicts: Sequence[Verdict]) -> None:
    """What was brought in before, or was copied from here, is here already: and stays as it is here."""
    keys = {one.uid for one in verdicts if one.uid}
    found = {booking.uid: booking for booking in Booking.objects.filter(uid__in=keys).select_related("village")}
    for one in verdicts:
        booking = found.get(one.uid) if one.uid else None
        if booking is None or one.standing == Standing.ASIDE:
            continue
        words = {
            "village": booking.village.name,
            "days": days_in_words(booking.period),
            "stage": booking.get_stage_display(),
        }
        sentences = [_("%(village)s, %(days)s, %(stage)s.") % words]
        if one.village not in {None, booking.village} or one.period not in {None, booking.period}:
            sentences.append(_("The file says otherwise. What is here stays as it is: change it on its own page."))
        one.words.clear()
        one.booking = booking
        one.refuse(Standing.HERE, *sentences)


def _mark_twice(verdicts: Sequence[Verdict]) -> None:
    first: dict[uuid.UUID, Verdict] = {}
    for one in verdicts:
        if one.uid is None or one.standing in {Standing.ASIDE, Standing.HERE}:
            continue
        before = first.setdefault(one.uid, one)
        if before is one:
            continue
        if (one.village, one.machines, one.period) == (before.village, before.machines, before.period):
            one.words.clear()
            one.refuse(Standing.ASIDE, _("The same as row %(row)d.") % {"row": before.row.place})
        else:
            one.refuse(Standing.UNCLEAR, _("It has the reference of row %(row)d.") % {"row": before.row.place})


def _check_may_be(one: Verdict, *, names: Names, seasons: Sequence[Season], today: date) -> None:
    """The rules of asking, for what is still to come. What is over is history: it is taken as it was."""
    assert one.period is not None  # noqa: S101
    assert one.village is not None  # noqa: S101
    season = next((season for season in seasons if season.period.contains(one.period.start)), None)
    fits = season is not None and one.period.fits_in(season.period)
    if one.period.length > LONGEST_DAYS:
        one.refuse(Standing.UNCLEAR, str(TooLong(length=one.period.length, longest=LONGEST_DAYS)))
    if not one.is_ahead(today):
        if not fits:
            one.words.append(_("In no season that is written down here."))
        return
    if not fits:
        nearest = season or next((each for each in seasons if each.closes_on >= today), None)
        one.refuse(Standing.UNCLEAR, str(OutsideSeason(season=nearest)))
    if one.village.left_on is not None:
        one.refuse(Standing.UNCLEAR, str(VillageHasLeft(village=one.village)))
    elif one.borrower not in names.signing_now[one.village.pk]:
        words = {"name": one.borrower, "village": one.village.name}
        one.refuse(Standing.UNCLEAR, _("%(name)s does not sign for %(village)s.") % words)
    retired = [machine for machine in one.machines if machine.retired_on or machine.kit.retired_on]
    if retired:
        one.refuse(Standing.UNCLEAR, str(MachineRetired(machines=retired)))


def _check_whereabouts(verdicts: Sequence[Verdict], *, today: date) -> None:
    """A machine is with one village at a time; and one that is set aside is promised, but in danger."""
    out = Booking.machines.through.objects.filter(booking__stage=Stage.OUT)
    away = dict(out.values_list("machine_id", "booking__village__name"))
    aside = fitness.faults_by_machine()
    tests = list(CarePlan.objects.tests().select_related("machine").soonest_first())
    for one in verdicts:
        if one.standing != Standing.MAKE:
            continue
        if one.stage == Stage.OUT:
            for machine in one.machines:
                if machine.pk in away:
                    words = {"machine": machine.name, "village": away[machine.pk]}
                    one.refuse(Standing.CLASH, _("%(machine)s is out with %(village)s now.") % words)
                away[machine.pk] = one.village.name if one.village else ""
        unfit = [machine for machine in one.machines if machine.pk in aside]
        if unfit and one.is_ahead(today):
            words = {"machines": machines_in_words(unfit)}
            one.words.append(_("Set aside now, so it is in danger until released: %(machines)s.") % words)
        if one.is_ahead(today):
            one.words += [_test_first(plan) for plan in tests if _will_be_overdue(plan, one, today)]


def _will_be_overdue(plan: CarePlan, one: Verdict, today: date) -> bool:
    assert one.period is not None  # noqa: S101
    keys = {machine.pk for machine in one.machines}
    return plan.machine_id in keys and fitness.will_be_overdue(plan, out_on=one.period.start, today=today)


def _test_first(plan: CarePlan) -> str:
    words = {"name": plan.name, "machine": plan.machine.name, "day": day_with_year(plan.due_on)}
    return _("In danger until tested: “%(name)s” of %(machine)s falls due on %(day)s, before it goes out.") % words
