"""Who has what, when."""

import uuid
from datetime import date, time, timedelta
from decimal import Decimal
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings import (  # so that Django finds them: they name Booking and Season by a string
    briefing_models,  # noqa: F401
    waiting_models,  # noqa: F401
)
from kitshare.kits.models import Depot, Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import Period
from kitshare.upkeep import fitness


class SeasonQuerySet(models.QuerySet["Season"]):
    def covering(self, day: date) -> "Season | None":
        return self.filter(opens_on__lte=day, closes_on__gte=day).order_by("pk").first()

    def current_or_next(self, day: date) -> "Season | None":
        """The season that is on, else the next one, else the last one there was."""
        coming = self.filter(closes_on__gte=day).order_by("opens_on", "pk").first()
        return coming or self.order_by("-opens_on", "pk").first()

    def periods(self) -> list[Period]:
        """The days of each, the earliest first. One query."""
        return [season.period for season in self.order_by("opens_on", "pk")]


class Season(models.Model):
    """The days in which fruit is pressed, both ends included. Outside them nothing can be booked."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    opens_on = models.DateField(_("first day"))
    closes_on = models.DateField(_("last day"))

    objects: ClassVar = SeasonQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(closes_on__gte=F("opens_on")), name="season_opens_before_it_closes")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def period(self) -> Period:
        return Period(start=self.opens_on, end=self.closes_on + timedelta(days=1))


class Stage(models.TextChoices):
    """How far a booking has come."""

    WAITING = "waiting", _("waiting")
    ASKED = "asked", _("asked")
    AGREED = "agreed", _("agreed")
    OUT = "out", _("out")
    BACK = "back", _("back")
    CLOSED = "closed", _("closed")
    DECLINED = "declined", _("declined")
    CALLED_OFF = "called_off", _("called off")


# Stages in which the machines are promised to the village.
HOLDING = (Stage.ASKED, Stage.AGREED, Stage.OUT)
# Stages before the kit has left: the booking can still be changed or called off.
AHEAD = (Stage.ASKED, Stage.AGREED)


class FruitUnitChoice(models.TextChoices):
    KG = "kg", _("kilograms")
    LB = "lb", _("pounds")
    CRATE = "crate", _("crates")
    SACK = "sack", _("sacks")
    BUSHEL = "bushel", _("bushels")
    SMALL_TREE = "small_tree", _("small trees")
    LARGE_TREE = "large_tree", _("large trees")


def needs_a_machine_set_aside() -> models.Exists:
    """Of a query of bookings: whether a fault stops one of the machines now."""
    return fitness.booking_has_fault(models.OuterRef("pk"))


def needs_a_test_first(today: date) -> models.Q:
    """Of a query of bookings: whether a safety test of a machine is overdue today or will be on the day it goes out."""
    ours = models.OuterRef("pk")
    by_then = fitness.booking_has_test_overdue(ours, on=models.OuterRef("out_on"))
    return models.Q(by_then) | models.Q(fitness.booking_has_test_overdue(ours, on=today))


class BookingQuerySet(models.QuerySet["Booking"]):
    def visible_to(self, member: Member) -> "BookingQuerySet":
        """All for those who run the scheme; a borrower sees the bookings of their own villages."""
        if member.coordinates or member.maintains:
            return self
        return self.filter(village__in=member.villages.all())

    def ahead(self) -> "BookingQuerySet":
        """Bookings whose kit has not left yet."""
        return self.filter(stage__in=AHEAD)

    def waiting(self) -> "BookingQuerySet":
        """Bookings on the waiting list. They hold no day, or only those that are offered to them now."""
        return self.filter(stage=Stage.WAITING)

    def overdue(self, today: date) -> "BookingQuerySet":
        """Bookings that should have been back before today and are not."""
        return self.filter(stage=Stage.OUT, back_on__lt=today)

    def next_of(self, machine: Machine) -> "BookingQuerySet":
        """Bookings for which a machine is still to go out, the soonest first."""
        return self.ahead().filter(machines=machine).order_by("out_on", "pk")

    def at_risk(self, today: date) -> "BookingQuerySet":
        """Bookings still to go out of which a machine is set aside now, or a safety test overdue on the day it goes."""
        return self.ahead().filter(needs_a_machine_set_aside() | needs_a_test_first(today))

    def with_people(self) -> "BookingQuerySet":
        """Each with its village, its borrower, and its machines kit by kit in packing order."""
        machines = Machine.objects.select_related("kit").order_by("kit__name", "kit_id", "position", "pk")
        return self.select_related("village", "borrower").prefetch_related(models.Prefetch("machines", machines))


class Booking(models.Model):
    """Machines promised to a village from the day they go out until the day they are back.

    The days are half-open: on `back_on` the machines are back in the morning, and may go out again.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    village = models.ForeignKey(Village, on_delete=models.PROTECT, related_name="bookings", verbose_name=_("village"))
    borrower = models.ForeignKey(
        Member, on_delete=models.PROTECT, related_name="bookings", verbose_name=_("who signs for it")
    )
    machines = models.ManyToManyField(Machine, related_name="bookings", verbose_name=_("machines"))
    stage = models.CharField(_("stage"), max_length=10, choices=Stage, default=Stage.ASKED)
    out_on = models.DateField(_("goes out on"))
    back_on = models.DateField(_("back by the morning of"))
    out_time = models.TimeField(_("collected at"), default=time(10))
    back_time = models.TimeField(_("brought back at"), default=time(9))
    fruit_amount = models.DecimalField(_("expected fruit"), max_digits=8, decimal_places=1)
    fruit_unit = models.CharField(_("measured in"), max_length=10, choices=FruitUnitChoice, default=FruitUnitChoice.KG)
    fruit_kg = models.DecimalField(
        max_digits=8, decimal_places=1, help_text="The fruit in kilograms, by the crate and sack in force when asked."
    )
    note = models.TextField(_("note for the coordinator"), max_length=2000, blank=True)
    reason = models.TextField(_("reason"), max_length=1000, blank=True)
    sequence = models.PositiveIntegerField(
        default=0, help_text="Rises when days, machines or standing change; calendars go by it."
    )
    revision = models.PositiveIntegerField(
        default=1, help_text="Rises with each change, so that two tabs cannot differ."
    )
    asked_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True, help_text="When it was declined or called off.")

    objects: ClassVar = BookingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(back_on__gt=F("out_on")), name="booking_goes_out_before_it_is_back"),
            models.CheckConstraint(
                condition=Q(fruit_kg__gt=0, fruit_kg__lte=Decimal("20000")), name="booking_fruit_is_sensible"
            ),
        ]
        indexes = [
            models.Index(fields=["out_on"], name="booking_by_day_out"),
            models.Index(fields=["village", "-out_on"], name="booking_of_a_village"),
            models.Index(fields=["back_on"], condition=Q(stage="out"), name="booking_out_now"),
            models.Index(fields=["out_on"], condition=Q(stage__in=["asked", "agreed"]), name="booking_still_ahead"),
            models.Index(fields=["out_on"], condition=Q(stage="waiting"), name="booking_waiting"),
        ]

    def __str__(self) -> str:
        return f"{self.village}, {self.out_on:%d %b %Y}"

    @property
    def period(self) -> Period:
        return Period(start=self.out_on, end=self.back_on)

    @property
    def holds_machines(self) -> bool:
        return self.stage in HOLDING

    @property
    def is_ahead(self) -> bool:
        return self.stage in AHEAD


class DayKind(models.TextChoices):
    BOOKED = "booked", _("booked")
    CARE = "care", _("cleaning and drying")
    CLOSED = "closed", _("closed")


class ClosedKind(models.TextChoices):
    """Why machines stay where they are, and so which ones."""

    DEPOT = "depot", _("depot closed")
    SERVICE = "service", _("away for service")
    HOLIDAY = "holiday", _("holiday")


class ClosedSpellQuerySet(models.QuerySet["ClosedSpell"]):
    def from_day(self, day: date) -> "ClosedSpellQuerySet":
        """Spells that are on or still to come."""
        return self.filter(last_day__gte=day)

    def in_order(self) -> "ClosedSpellQuerySet":
        """The soonest first, each with what its words need."""
        return self.select_related("depot").prefetch_related("machines").order_by("first_day", "pk")


class ClosedSpell(models.Model):
    """Days, both ends included, on which machines do not go out, and why.

    A closed depot closes every machine that lives there, a holiday every machine there is, and a service the machines
    named. The rows that hold the days follow from the spells: see `kitshare.bookings.closing`.
    """

    kind = models.CharField(_("what is closed"), max_length=8, choices=ClosedKind)
    depot = models.ForeignKey(
        Depot, on_delete=models.PROTECT, related_name="closed_spells", null=True, blank=True, verbose_name=_("depot")
    )
    machines = models.ManyToManyField(Machine, related_name="closed_spells", blank=True, verbose_name=_("machines"))
    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"))
    reason = models.CharField(_("reason"), max_length=120)

    objects: ClassVar = ClosedSpellQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="closed_spell_begins_before_it_ends"
            ),
            models.CheckConstraint(
                condition=Q(kind="depot", depot__isnull=False) | (~Q(kind="depot") & Q(depot__isnull=True)),
                name="closed_depot_says_which",
            ),
        ]
        indexes = [models.Index(fields=["last_day"], name="closed_spell_by_last_day")]

    def __str__(self) -> str:
        return self.reason

    @property
    def period(self) -> Period:
        return Period(start=self.first_day, end=self.last_day + timedelta(days=1))


class BookedDay(models.Model):
    """One machine on one day. That the pair is unique is the promise that no machine is promised twice."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="days")
    day = models.DateField()
    kind = models.CharField(max_length=8, choices=DayKind)
    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="days", null=True)
    spell = models.ForeignKey(ClosedSpell, on_delete=models.CASCADE, related_name="days", null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["machine", "day"], name="machine_booked_once_a_day"),
            models.CheckConstraint(
                condition=Q(kind="closed", booking__isnull=True, spell__isnull=False)
                | (~Q(kind="closed") & Q(booking__isnull=False, spell__isnull=True)),
                name="booked_day_says_for_whom",
            ),
        ]
        indexes = [models.Index(fields=["day"], name="booked_day_by_day")]

    def __str__(self) -> str:
        return f"{self.machine_id} on {self.day}"


class FeedState(models.Model):
    """What a calendar feed held when it was last fetched, and since when it has held that.

    "Changed since" cannot be read from the bookings alone: a village is renamed, a day passes, a setting changes.
    """

    owner = models.CharField(max_length=60, unique=True, help_text="Whose feed it is, such as people.village:3.")
    fingerprint = models.CharField(max_length=64)
    since = models.DateTimeField(help_text="In whole seconds, and later with every change.")

    def __str__(self) -> str:
        return self.owner
