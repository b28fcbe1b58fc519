"""Services and safety tests that recur: what is to be done to a machine, how often, and what was done.

A record is only ever added. When something is due next stands in its plan: as first given, as the last record says, or
as somebody changed it since.
"""

import uuid
from decimal import Decimal
from typing import Any, ClassVar

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine
from kitshare.logbook.models import AddedRow, OnlyAdded
from kitshare.people.models import FeedOwner, Member
from kitshare.rules.due_by_use import MOST_EVERY, Measure
from kitshare.rules.servicing import MOST, Interval, Unit


class CareKind(models.TextChoices):
    """A service keeps a machine going; a safety test says whether it may be lent, and stops it when overdue."""

    SERVICE = "service", _("service")
    VISUAL = "visual", _("safety test: visual inspection")
    ELECTRICAL = "electrical", _("safety test: electrical inspection")
    TRIP_SWITCH = "trip_switch", _("safety test: trip switch")
    PROBE = "probe", _("safety test: probe check")
    GUARD = "guard", _("safety test: guard check")


class CareUnit(models.TextChoices):
    DAYS = Unit.DAYS.value, _("days")
    MONTHS = Unit.MONTHS.value, _("months")


class CarePlanQuerySet(models.QuerySet["CarePlan"]):
    def in_force(self) -> "CarePlanQuerySet":
        """Plans that were not ended, of machines in use."""
        return self.filter(ended_on=None, machine__retired_on=None, machine__kit__retired_on=None)

    def overdue(self, on: Any) -> "CarePlanQuerySet":
        """What will be overdue on a day: a date, or a column that holds one."""
        return self.in_force().filter(due_on__lt=on)

    def tests(self) -> "CarePlanQuerySet":
        """Safety tests in force."""
        return self.in_force().exclude(kind=CareKind.SERVICE)

    def tests_overdue(self, on: Any) -> "CarePlanQuerySet":
        """Safety tests that stop a machine on a day, since they will be overdue."""
        return self.tests().overdue(on)

    def by_use(self) -> "CarePlanQuerySet":
        """Services in force that fall due by use too."""
        of_some = Q(every_kg__isnull=False) | Q(every_hours__isnull=False) | Q(every_outings__isnull=False)
        return self.in_force().filter(of_some)

    def soonest_first(self) -> "CarePlanQuerySet":
        return self.order_by("due_on", "pk")


class CarePlan(models.Model):
    """A service or a safety test of one machine that recurs.

    The key is made with the form, so that a form sent twice is one plan.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="care_plans", verbose_name=_("machine"))
    kind = models.CharField(_("what it is"), max_length=12, choices=CareKind)
    name = models.CharField(_("name"), max_length=80, help_text=_("What people call it, such as “Blades sharpened”."))
    every = models.PositiveSmallIntegerField(_("due every"), validators=[MinValueValidator(1)])
    unit = models.CharField(_("counted in"), max_length=6, choices=CareUnit, default=CareUnit.MONTHS)
    due_on = models.DateField(_("due on"))
    every_kg = models.DecimalField(
        _("or every so many kilograms milled"), max_digits=8, decimal_places=1, null=True, blank=True
    )
    every_hours = models.DecimalField(
        _("or every so many hours"), max_digits=6, decimal_places=1, null=True, blank=True
    )
    every_outings = models.PositiveSmallIntegerField(_("or every so many outings"), null=True, blank=True)
    who = models.CharField(
        _("who may do it"), max_length=120, blank=True, help_text=_("Such as “a competent person under local rules”.")
    )
    caution = models.TextField(
        _("caution"), max_length=1000, blank=True, help_text=_("What can hurt somebody who does it.")
    )
    sequence = models.PositiveIntegerField(
        default=0, help_text="Rises when the due day moves or the plan ends; calendars go by it."
    )
    added_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    ended_on = models.DateField(null=True, blank=True)

    objects: ClassVar = CarePlanQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "name"], condition=Q(ended_on=None), name="care_plan_named_once_a_machine"
            ),
            models.CheckConstraint(
                condition=Q(unit=Unit.DAYS.value, every__gte=1, every__lte=MOST[Unit.DAYS])
                | Q(unit=Unit.MONTHS.value, every__gte=1, every__lte=MOST[Unit.MONTHS]),
                name="care_recurs_within_ten_years",
            ),
            models.CheckConstraint(
                condition=Q(kind=CareKind.SERVICE)
                | Q(every_kg__isnull=True, every_hours__isnull=True, every_outings__isnull=True),
                name="only_a_service_goes_by_use",
            ),
            models.CheckConstraint(
                condition=(Q(every_kg=None) | Q(every_kg__range=(1, MOST_EVERY[Measure.KG])))
                & (Q(every_hours=None) | Q(every_hours__range=(1, MOST_EVERY[Measure.HOURS])))
                & (Q(every_outings=None) | Q(every_outings__range=(1, MOST_EVERY[Measure.OUTINGS]))),
                name="care_goes_by_a_sensible_use",
            ),
        ]
        indexes = [models.Index(fields=["due_on"], condition=Q(ended_on=None), name="care_plan_by_due_day")]

    def __str__(self) -> str:
        return f"{self.machine}: {self.name}"

    @property
    def is_test(self) -> bool:
        """Whether it is a safety test, which stops the machine when it is overdue."""
        return self.kind != CareKind.SERVICE

    @property
    def interval(self) -> Interval:
        return Interval(self.every, Unit(self.unit))

    @property
    def limits(self) -> dict[Measure, Decimal]:
        """After how much use it is due, where it goes by use too."""
        said = {Measure.KG: self.every_kg, Measure.HOURS: self.every_hours, Measure.OUTINGS: self.every_outings}
        return {measure: Decimal(value) for measure, value in said.items() if value is not None}

    @property
    def is_ended(self) -> bool:
        return self.ended_on is not None


class CareRecord(AddedRow):
    """That a service or a safety test was done. A record of what somebody says, not a certificate."""

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    plan = models.ForeignKey(CarePlan, on_delete=models.PROTECT, related_name="records")
    done_on = models.DateField(_("day on which it was done"))
    done_by_name = models.CharField(_("who did it"), max_length=120)
    passed = models.BooleanField(_("passed"))
    note = models.TextField(_("note"), max_length=2000, blank=True)
    due_before_on = models.DateField(help_text="When it had been due.")
    next_due_on = models.DateField(_("due next on"))
    fault = models.ForeignKey(
        "upkeep.Fault", on_delete=models.PROTECT, null=True, blank=True, related_name="found_by_tests"
    )
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = OnlyAdded["CareRecord"].as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(passed=False) | Q(next_due_on__gt=models.F("done_on")), name="care_done_is_due_again_later"
            ),
            models.CheckConstraint(
                condition=Q(passed=True, fault__isnull=True) | Q(passed=False, fault__isnull=False),
                name="test_failed_has_its_fault",
            ),
        ]
        indexes = [models.Index(fields=["plan", "-done_on", "-id"], name="care_record_newest_first")]

    def __str__(self) -> str:
        return f"{self.plan}, {self.done_on}"


class UpkeepCalendar(FeedOwner):
    """Whose address the calendar of services and safety tests has. There is one row, from the first address on."""

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_upkeep_calendar_a_site")]

    def __str__(self) -> str:
        return str(_("services and safety tests"))
