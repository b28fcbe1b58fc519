"""What state a machine is in, and so whether it is fit to lend."""

import uuid
from collections.abc import Iterable
from typing import ClassVar, Final

from django.db import models
from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, Value, When
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine, Part
from kitshare.people.models import Member
from kitshare.rules.checklists import NEEDED_TO_RUN, Severity
from kitshare.upkeep import (  # noqa: F401 - so that Django finds them
    care_models,
    photo_models,
    probe_models,
    reading_models,
    season_models,
    shelf_models,
    use_models,
)
from kitshare.upkeep.spending import MOST_MINUTES, MOST_MONEY

SEVERITIES = [
    (Severity.STOPS_USE.value, _("stops use")),
    (Severity.USE_WITH_CARE.value, _("use with care")),
    (Severity.LOOKS_ONLY.value, _("looks only")),
]


MOST_TO_CHOOSE: Final = 100  # faults in one list


class FaultStage(models.TextChoices):
    """How far the mending has come. A fault stops use until it is released, not until it is mended.

    Given up, it stops nothing because what it stopped is retired; brought back into use, it is stopped as before.
    """

    REPORTED = "reported", _("reported")
    TAKEN = "taken", _("taken on")
    MENDED = "mended", _("mended, to be retested")
    RELEASED = "released", _("released")
    GIVEN_UP = "given_up", _("given up")


class FaultDeed(models.TextChoices):
    """What somebody did about a fault after it was reported."""

    NOTED = "noted", _("wrote a note")
    TAKEN = "taken", _("took it on")
    HANDED_BACK = "handed_back", _("handed it back")
    HANDED_ON = "handed_on", _("handed it on")
    WAITS = "waits", _("wrote that it waits for a part")
    JOINED = "joined", _("joined it to another")
    FOLLOWED = "followed", _("joined another to it")
    PARTED = "parted", _("parted it from another")
    PART_CAME = "part_came", _("wrote that what it waited for is there")
    REGRADED = "regraded", _("changed how bad it is")
    MENDED = "mended", _("mended it")
    RETEST_FAILED = "retest_failed", _("retested it: not right yet")
    RELEASED = "released", _("released it after a retest")
    GIVEN_UP = "given_up", _("gave it up")


# Deeds that say nothing are no record. Taking on and handing back speak for themselves.
SPEAKS_FOR_ITSELF = (FaultDeed.TAKEN, FaultDeed.HANDED_BACK, FaultDeed.PART_CAME)


def _given_up_for_good() -> Q:
    """Given up, and it stops nothing that is in use now: as `Fault.stops_something_in_use` says it of one fault."""
    shared = Part.also_serves.through.objects.filter(part=OuterRef("part"), part__kind__in=NEEDED_TO_RUN)
    still_serves = Exists(shared.filter(machine__retired_on=None, machine__kit__retired_on=None))
    machine_gone = Q(machine__retired_on__isnull=False) | Q(machine__kit__retired_on__isnull=False)
    part_gone = Q(part__retired_on__isnull=False) & ~Q(part__kind__in=NEEDED_TO_RUN)
    stops_nothing = ~Q(severity=Severity.STOPS_USE.value) | part_gone | (machine_gone & ~Q(still_serves))
    return Q(stage=FaultStage.GIVEN_UP) & stops_nothing


class FaultQuerySet(models.QuerySet["Fault"]):
    def open(self) -> "FaultQuerySet":
        """Faults not released, nor given up for good."""
        return self.exclude(stage=FaultStage.RELEASED).exclude(_given_up_for_good())

    def over(self) -> "FaultQuerySet":
        """Faults released or given up, the latest first."""
        ended = Coalesce("released_at", "given_up_at")
        return self.filter(stage__in=[FaultStage.RELEASED, FaultStage.GIVEN_UP]).order_by(ended.desc(), "-pk")

    def stopping(self, machines: Iterable[Machine] | None = None) -> "FaultQuerySet":
        """Open faults because of which a machine may not go out; of those given, or of all.

        A fault of a vital or a guard part stops each machine that the part serves.
        """
        faults = self.open().filter(severity=Severity.STOPS_USE.value)
        if machines is None:
            return faults
        keys = [machine.pk for machine in machines]
        shared = Part.also_serves.through.objects.filter(machine__in=keys, part__kind__in=NEEDED_TO_RUN)
        return faults.filter(Q(machine__in=keys) | Q(part__in=shared.values("part")))

    def stopping_machine(self, machine: OuterRef) -> "FaultQuerySet":
        """Those that stop the machine of an outer query, for Exists()."""
        return self.stopping().filter(Q(machine=machine) | Q(part__kind__in=NEEDED_TO_RUN, part__also_serves=machine))

    def stopping_booking(self, booking: OuterRef) -> "FaultQuerySet":
        """Those that stop a machine of the booking of an outer query, for Exists()."""
        shared = Q(part__kind__in=NEEDED_TO_RUN, part__also_serves__bookings=booking)
        return self.stopping().filter(Q(machine__bookings=booking) | shared)

    def concerning(self, machines: Iterable[Machine]) -> "FaultQuerySet":
        """Open faults of some machines, and those of shared parts that stop one of them."""
        here = list(machines)
        return self.open().filter(Q(machine__in=here) | Q(pk__in=Fault.objects.stopping(here).values("pk")))

    def with_machines(self) -> "FaultQuerySet":
        """Each ready to say which machines it concerns."""
        return self.select_related("machine", "part").prefetch_related("part__also_serves")

    def to_join(self, fault: "Fault") -> "FaultQuerySet":
        """Open faults that a fault may follow, of its machine and its kit before others; a hundred at most."""
        may = self.open().filter(stage__in=[FaultStage.REPORTED, FaultStage.TAKEN], joined_to=None).exclude(pk=fault.pk)
        machine, kit = When(machine=fault.machine_id, then=0), When(machine__kit=fault.machine.kit_id, then=1)
        nearest = may.order_by(Case(machine, kit, default=2, output_field=IntegerField()), "-reported_at", "-pk")
        return nearest.select_related("machine", "part").filter(pk__in=nearest.values("pk")[:MOST_TO_CHOOSE])

    def worst_first(self) -> "FaultQuerySet":
        """Ordered by severity, then the oldest first."""
        order = [value for value, _word in SEVERITIES]
        rank = Case(
            *(When(severity=value, then=Value(place)) for place, value in enumerate(order)),
            default=Value(len(order)),
            output_field=IntegerField(),
        )
        return self.annotate(severity_rank=rank).order_by("severity_rank", "reported_at", "pk")


class Fault(models.Model):
    """Something wrong with a machine or one of its parts.

    The key is made with the form, so that a report sent twice is one fault.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="faults", verbose_name=_("machine"))
    part = models.ForeignKey(
        Part, on_delete=models.PROTECT, related_name="faults", null=True, blank=True, verbose_name=_("part")
    )
    note = models.TextField(_("what is wrong"), max_length=2000)
    severity = models.CharField(_("how bad it is"), max_length=14, choices=SEVERITIES)
    stage = models.CharField(_("stage"), max_length=10, choices=FaultStage, default=FaultStage.REPORTED)
    reported_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="faults_reported")
    reported_at = models.DateTimeField()
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="faults_taken", null=True, blank=True)
    mended_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="faults_mended", null=True, blank=True)
    mended_at = models.DateTimeField(null=True, blank=True)
    retest_note = models.TextField(_("how it was retested"), max_length=2000, blank=True)
    released_by = models.ForeignKey(
        Member, on_delete=models.PROTECT, related_name="faults_released", null=True, blank=True
    )
    released_at = models.DateTimeField(null=True, blank=True)
    waits_for = models.CharField(_("what it waits for"), max_length=200, blank=True)
    expected_on = models.DateField(_("expected on"), null=True, blank=True)
    given_up_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    given_up_at = models.DateTimeField(null=True, blank=True)
    given_up_reason = models.TextField(_("why it was given up"), max_length=2000, blank=True)
    joined_to = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        related_name="joined",
        null=True,
        blank=True,
        help_text="The fault of the same cause that this one follows. It stops its own machine until that is released.",
    )
    revision = models.PositiveIntegerField(
        default=1, help_text="Rises with each change, so that two tabs cannot differ."
    )

    objects: ClassVar = FaultQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(stage=FaultStage.RELEASED, released_by__isnull=False, released_at__isnull=False)
                | ~Q(stage=FaultStage.RELEASED),
                name="released_fault_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(mended_by__isnull=False, mended_at__isnull=False)
                | ~Q(stage__in=[FaultStage.MENDED, FaultStage.RELEASED]),
                name="mended_fault_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(stage=FaultStage.RELEASED, retest_note=""), name="released_fault_was_retested"
            ),
            models.CheckConstraint(
                condition=Q(waits_for="", expected_on__isnull=True)
                | (~Q(waits_for="") & Q(expected_on__isnull=False, stage__in=[FaultStage.REPORTED, FaultStage.TAKEN])),
                name="fault_waits_for_a_part_until_a_day",
            ),
            models.CheckConstraint(
                condition=Q(joined_to=None) | ~Q(joined_to=F("pk")), name="fault_is_not_joined_to_itself"
            ),
            models.CheckConstraint(
                condition=~Q(stage=FaultStage.GIVEN_UP)
                | (Q(given_up_by__isnull=False, given_up_at__isnull=False) & ~Q(given_up_reason="")),
                name="given_up_fault_says_who_when_and_why",
            ),
        ]
        indexes = [
            models.Index(fields=["machine"], condition=~Q(stage="released"), name="fault_open_of_a_machine"),
        ]

    def __str__(self) -> str:
        return f"{self.machine}: {self.note[:60]}"

    @property
    def stops_use(self) -> bool:
        return self.severity == Severity.STOPS_USE

    @property
    def machine_keys(self) -> set[int]:
        """The machines that it concerns, by key: its own, and for a vital or a guard part all that the part serves."""
        if self.part is None or self.part.kind not in NEEDED_TO_RUN:
            return {self.machine_id}
        return {self.machine_id, *(machine.pk for machine in self.part.also_serves.all())}

    @property
    def is_open(self) -> bool:
        if self.stage == FaultStage.GIVEN_UP:
            return self.stops_something_in_use
        return self.stage != FaultStage.RELEASED

    @property
    def stops_something_in_use(self) -> bool:
        """Whether, until it is released, a machine in use may not go out because of it."""
        needed = self.part is not None and self.part.kind in NEEDED_TO_RUN
        if not self.stops_use or (self.part is not None and self.part.retired_on and not needed):
            return False
        if not (self.machine.retired_on or self.machine.kit.retired_on):
            return True
        return self.part is not None and needed and self.part.also_serves.in_use().exists()

    @property
    def follows(self) -> bool:
        """Whether what becomes of it is settled at the fault to which it is joined."""
        return self.joined_to is not None and self.joined_to.is_open

    def wait_no_more(self) -> None:
        self.waits_for, self.expected_on = "", None


class FaultNote(models.Model):
    """What somebody found or did about a fault; added, never changed.

    Each deed raises the fault's revision by one and writes one note under it. That the pair is unique is the
    promise that of two tabs only one has its way.
    """

    fault = models.ForeignKey(Fault, on_delete=models.PROTECT, related_name="notes")
    revision = models.PositiveIntegerField()
    deed = models.CharField(max_length=14, choices=FaultDeed, default=FaultDeed.NOTED)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    text = models.TextField(_("note"), max_length=2000, blank=True)
    minutes = models.PositiveIntegerField(_("minutes spent"), null=True, blank=True)
    money = models.DecimalField(_("money spent"), max_digits=8, decimal_places=2, null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fault", "revision"], name="fault_changed_by_one_at_a_time"),
            models.CheckConstraint(
                condition=~Q(text="") | Q(deed__in=SPEAKS_FOR_ITSELF), name="fault_note_says_something"
            ),
            models.CheckConstraint(
                condition=(Q(minutes=None) | Q(minutes__gte=1, minutes__lte=MOST_MINUTES))
                & (Q(money=None) | Q(money__gt=0, money__lte=MOST_MONEY)),
                name="spent_on_a_fault_is_believable",
            ),
        ]

    def __str__(self) -> str:
        return self.text[:60] or str(self.get_deed_display())
