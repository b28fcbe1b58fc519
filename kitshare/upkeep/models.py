"""What state a machine is in, and so whether it is fit to lend."""

import uuid
from collections.abc import Iterable
from typing import ClassVar

from django.db import models
from django.db.models import Case, IntegerField, OuterRef, Q, Value, When
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Machine, Part
from kitshare.people.models import Member
from kitshare.rules.checklists import NEEDED_TO_RUN, Severity
from kitshare.upkeep import care_models, probe_models, reading_models, use_models  # noqa: F401 - so that Django finds them

SEVERITIES = [
    (Severity.STOPS_USE.value, _("stops use")),
    (Severity.USE_WITH_CARE.value, _("use with care")),
    (Severity.LOOKS_ONLY.value, _("looks only")),
]


class FaultStage(models.TextChoices):
    """How far the mending has come. A fault stops use until it is released, not until it is mended."""

    REPORTED = "reported", _("reported")
    TAKEN = "taken", _("taken on")
    MENDED = "mended", _("mended, to be retested")
    RELEASED = "released", _("released")


class FaultDeed(models.TextChoices):
    """What somebody did about a fault after it was reported."""

    NOTED = "noted", _("wrote a note")
    TAKEN = "taken", _("took it on")
    HANDED_BACK = "handed_back", _("handed it back")
    REGRADED = "regraded", _("changed how bad it is")
    MENDED = "mended", _("mended it")
    RETEST_FAILED = "retest_failed", _("retested it: not right yet")
    RELEASED = "released", _("released it after a retest")


# Deeds that say nothing are no record. Taking on and handing back speak for themselves.
SPEAKS_FOR_ITSELF = (FaultDeed.TAKEN, FaultDeed.HANDED_BACK)


class FaultQuerySet(models.QuerySet["Fault"]):
    def open(self) -> "FaultQuerySet":
        """Faults not yet released."""
        return self.exclude(stage=FaultStage.RELEASED)

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

    def with_machines(self) -> "FaultQuerySet":
        """Each ready to say which machines it concerns."""
        return self.select_related("machine", "part").prefetch_related("part__also_serves")

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
        return self.stage != FaultStage.RELEASED


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

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fault", "revision"], name="fault_changed_by_one_at_a_time"),
            models.CheckConstraint(
                condition=~Q(text="") | Q(deed__in=SPEAKS_FOR_ITSELF), name="fault_note_says_something"
            ),
        ]

    def __str__(self) -> str:
        return self.text[:60] or str(self.get_deed_display())
