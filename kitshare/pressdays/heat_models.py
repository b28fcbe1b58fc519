"""Heat records: what the probe showed while a batch was heated, the verdict on it, and the bottles it stands for.

A record is only ever added to. A mistake is put right by another record of the same batch, which keeps its number and
its code and stands in its place; the older one stays, and says by which it was replaced.
"""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import ClassVar, Final

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine, Part
from kitshare.logbook.models import AddedRow, OnlyAdded
from kitshare.people.models import Member
from kitshare.rules import batch_codes
from kitshare.rules.heat_verdict import Verdict
from kitshare.upkeep.probe_models import ProbeCheck

DRAFT_KEPT_FOR: Final = timedelta(days=7)
MOST_BOTTLES: Final = 5000
MOST_LITRES: Final = Decimal(5000)
MOST_BATCHES: Final = 200


class Came(models.TextChoices):
    """How the readings came here."""

    TYPED = "typed", _("typed")
    PASTED = "pasted", _("pasted")
    UPLOADED = "uploaded", _("uploaded")


VERDICTS = [(Verdict.HELD.value, _("held as recommended")), (Verdict.NOT_SHOWN.value, _("not shown to be held"))]


class HeatRecordQuerySet(OnlyAdded["HeatRecord"]):
    def standing(self) -> "HeatRecordQuerySet":
        """One for each batch: those that no other record replaces."""
        return self.filter(replaced_by=None)

    def visible_to(self, member: Member) -> "HeatRecordQuerySet":
        """All for those who run the scheme; a borrower sees the batches of their own villages."""
        if member.coordinates or member.maintains:
            return self
        return self.filter(booking__village__in=member.villages.all())

    def with_where(self) -> "HeatRecordQuerySet":
        """Each with its village, its machine and its probe."""
        return self.select_related("booking__village", "pasteuriser__kit", "probe", "by")


class HeatRecord(AddedRow):
    """One batch of bottles through a pasteuriser, and what the probe showed meanwhile.

    `told` is the verdict as it was given on the day, with every number in it; `curve` is the corrected log, thinned for
    drawing. The readings themselves, as they were sent, stand in `HeatReadings`.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="heat_records")
    number = models.PositiveSmallIntegerField(_("number of the batch"))
    code = models.CharField(_("batch code"), max_length=batch_codes.LENGTH)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, related_name="replaced_by", null=True)
    why_replaced = models.TextField(_("why it replaces the older one"), max_length=500, blank=True)
    pasteuriser = models.ForeignKey(
        Machine, on_delete=models.PROTECT, related_name="heat_records", null=True, verbose_name=_("pasteuriser")
    )
    probe = models.ForeignKey(
        Part, on_delete=models.PROTECT, related_name="heat_records", null=True, verbose_name=_("probe")
    )
    probe_check = models.ForeignKey(ProbeCheck, on_delete=models.PROTECT, related_name="heat_records", null=True)
    gain = models.FloatField(default=1.0, help_text="True temperature = gain * reading + offset.")
    offset_c = models.FloatField(default=0.0)
    came = models.CharField(max_length=8, choices=Came)
    file_name = models.CharField(max_length=200, blank=True)
    found = models.JSONField(help_text="How the text was understood when it was looked over.")
    target_c = models.DecimalField(max_digits=4, decimal_places=1)
    hold_minutes = models.DecimalField(max_digits=6, decimal_places=1)
    recommended_by = models.CharField(max_length=200, help_text="The source of the recommendation.")
    longest_gap_minutes = models.DecimalField(max_digits=5, decimal_places=1)
    ph = models.DecimalField(_("pH of the juice"), max_digits=4, decimal_places=2, null=True)
    verdict = models.CharField(max_length=10, choices=VERDICTS)
    told = models.JSONField()
    curve = models.JSONField()
    bottles = models.PositiveSmallIntegerField(_("how many bottles"))
    container = models.CharField(_("which containers"), max_length=80)
    litres = models.DecimalField(_("litres in all"), max_digits=6, decimal_places=1)
    filled_on = models.DateField(_("filled on"))
    best_before = models.DateField(null=True, help_text="Empty where the hold is not shown.")
    note = models.TextField(_("note"), max_length=1000, blank=True)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = HeatRecordQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["booking", "number"], condition=Q(replaces=None), name="batch_numbered_once_a_booking"
            ),
            models.UniqueConstraint(fields=["code"], condition=Q(replaces=None), name="batch_code_used_once"),
            models.CheckConstraint(
                condition=Q(replaces__isnull=True, why_replaced="") | (Q(replaces__isnull=False) & ~Q(why_replaced="")),
                name="heat_record_says_why_it_replaces",
            ),
            models.CheckConstraint(
                condition=Q(verdict=Verdict.HELD.value, best_before__gt=F("filled_on"))
                | Q(verdict=Verdict.NOT_SHOWN.value, best_before__isnull=True),
                name="only_what_was_held_keeps",
            ),
            models.CheckConstraint(
                condition=Q(bottles__gte=1, bottles__lte=MOST_BOTTLES, litres__gt=0, litres__lte=MOST_LITRES),
                name="batch_is_of_a_sensible_size",
            ),
        ]
        indexes = [
            models.Index(fields=["code"], name="heat_record_by_code"),
            models.Index(fields=["verdict", "-filled_on"], name="heat_record_by_verdict"),
        ]

    def __str__(self) -> str:
        return f"{batch_codes.shown(self.code)}, {self.booking}"

    @property
    def shown_code(self) -> str:
        """The code as it stands on the bottles."""
        return batch_codes.shown(self.code)

    @property
    def is_held(self) -> bool:
        return self.verdict == Verdict.HELD

    @property
    def is_corrected(self) -> bool:
        """Whether the readings were put right by a check of the probe."""
        return (self.gain, self.offset_c) != (1.0, 0.0)


class HeatReadings(AddedRow):
    """The readings of one record as they were sent, in minutes from the first and degrees Celsius, uncorrected.

    Apart from the record, so that no list carries them along; packed by `heat_keeping`.
    """

    record = models.OneToOneField(HeatRecord, on_delete=models.PROTECT, related_name="readings", primary_key=True)
    count = models.PositiveIntegerField()
    packed = models.BinaryField()

    objects: ClassVar = OnlyAdded["HeatReadings"].as_manager()

    def __str__(self) -> str:
        return f"{self.count} readings of {self.record_id}"


class HeatDraftQuerySet(models.QuerySet["HeatDraft"]):
    def of(self, member: Member) -> "HeatDraftQuerySet":
        """A member's own: what is only looked at is nobody else's yet."""
        return self.filter(owner=member)

    def unsaved(self) -> "HeatDraftQuerySet":
        """Those of which no record was made: a record bears the key of its draft."""
        return self.exclude(key__in=HeatRecord.objects.values("key"))

    def kept_too_long(self, at: datetime) -> "HeatDraftQuerySet":
        return self.filter(kept_at__lt=at - DRAFT_KEPT_FOR)


class HeatDraft(models.Model):
    """What somebody typed, pasted or uploaded, kept until it is looked over and saved. It goes after a week."""

    key = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    owner = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="heat_drafts")
    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="heat_drafts")
    replaces = models.ForeignKey(HeatRecord, on_delete=models.CASCADE, related_name="+", null=True)
    came = models.CharField(max_length=8, choices=Came)
    file_name = models.CharField(max_length=200, blank=True)
    packed = models.BinaryField(help_text="The text as it was sent, deflated.")
    kept_at = models.DateTimeField()

    objects: ClassVar = HeatDraftQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["kept_at"], name="heat_draft_by_age")]

    def __str__(self) -> str:
        return self.file_name or str(self.get_came_display())


class Recall(AddedRow):
    """That a coordinator asks for batches back, and why."""

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    reason = models.TextField(_("why"), max_length=1000)
    what_to_do = models.TextField(_("what to do with the bottles"), max_length=1000)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = OnlyAdded["Recall"].as_manager()

    def __str__(self) -> str:
        return self.reason[:60]


class RecalledBatchQuerySet(OnlyAdded["RecalledBatch"]):
    def open(self) -> "RecalledBatchQuerySet":
        """Batches that are asked back now."""
        return self.filter(recall__end=None)


class RecalledBatch(AddedRow):
    """One batch that is asked back, by the record that stood for it then."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="batches")
    record = models.ForeignKey(HeatRecord, on_delete=models.PROTECT, related_name="recalls")

    objects: ClassVar = RecalledBatchQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["recall", "record"], name="batch_once_a_recall")]

    def __str__(self) -> str:
        return str(self.record)


class RecallEnd(AddedRow):
    """That a recall is over: every bottle is back, or it was called by mistake."""

    recall = models.OneToOneField(Recall, on_delete=models.PROTECT, related_name="end", primary_key=True)
    reason = models.TextField(max_length=1000)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = OnlyAdded["RecallEnd"].as_manager()

    def __str__(self) -> str:
        return self.reason[:60]
