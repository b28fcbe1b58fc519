"""Sheets as phones sent them, kept whatever became of them, and sheets that were paused for somebody to carry on."""

import uuid
from datetime import timedelta
from typing import Any, ClassVar, Final

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.people.models import Member

# A phone's clock that is further off than this is said beside the sheet.
CLOCK_MAY_BE_OFF: Final = timedelta(minutes=10)

# As the checks are called: that model stands above this one.
KINDS: Final = {"pickup": _("pickup check"), "return": _("return check"), "relay": _("relay check")}


class SheetState(models.TextChoices):
    """What became of a sheet after it arrived."""

    UNJUDGED = "unjudged", _("not looked at yet")
    RECORDED = "recorded", _("recorded")
    KEPT = "kept", _("kept, not recorded")
    MERGED = "merged", _("kept beside another's check")
    WRONG = "wrong", _("sent back to be mended")


class SentSheetQuerySet(models.QuerySet["SentSheet"]):
    def visible_to(self, member: Member) -> "SentSheetQuerySet":
        """All for coordinators; everybody else sees what they sent themselves."""
        return self if member.coordinates else self.filter(by=member)

    def naming(self, photo_key: uuid.UUID, *, booking: Booking, by: Member) -> "list[SentSheet]":
        """The sheets of this member that name a photo, which may come after them."""
        sheets = self.filter(booking=booking, by=by).order_by("pk")
        return [sheet for sheet in sheets if str(photo_key) in sheet.body["photo_keys"].values()]

    def loud(self) -> "SentSheetQuerySet":
        """Those that need somebody: not recorded, or at odds with the check that was there first in what matters."""
        return self.filter(Q(state=SheetState.KEPT) | Q(state=SheetState.MERGED, matters=True), dealt_at=None)


class SentSheet(models.Model):
    """One sheet as a phone sent it. It is stored before anything is judged, so that no judging can lose it.

    `body` holds the fields as they came, and the lines as they were read. `made_at` is when it was signed, by the
    server's clock; `clock_ahead` by how many seconds the phone's clock was ahead of it (below 0: behind). `answer` is
    what the phone was told, and is told again however often it asks.
    """

    key = models.UUIDField(unique=True)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="sent_sheets")
    from_booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="+", null=True)
    kind = models.CharField(max_length=6)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    is_made_away = models.BooleanField(help_text="Signed away from the server: it has happened, whatever comes after.")
    received_at = models.DateTimeField()
    clock_ahead = models.IntegerField(default=0)
    list_changed = models.BooleanField(default=False, help_text="The phone had another list of parts than the server.")
    body: models.JSONField[dict[str, Any], dict[str, Any]] = models.JSONField()
    digest = models.CharField(max_length=64)
    state = models.CharField(max_length=8, choices=SheetState, default=SheetState.UNJUDGED)
    answer: models.JSONField[dict[str, Any] | None, dict[str, Any] | None] = models.JSONField(null=True)
    recorded_as = models.ForeignKey(
        "checks.HandoverCheck", on_delete=models.PROTECT, related_name="sheets", null=True, blank=True
    )
    photos = models.ManyToManyField("checks.Photo", related_name="sheets")
    differences: models.JSONField[list[dict[str, Any]], list[dict[str, Any]]] = models.JSONField(default=list)
    matters = models.BooleanField(default=False, help_text="Merged, and it saw something worse than the check.")
    waits = models.BooleanField(default=False, help_text="For another sheet: it is looked at again by itself.")
    dealt_at = models.DateTimeField(null=True)
    dealt_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+", null=True)
    dealt_note = models.TextField(_("what was done about it"), max_length=1000, blank=True)

    objects: ClassVar = SentSheetQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(dealt_at__isnull=True, dealt_by__isnull=True)
                | Q(dealt_at__isnull=False, dealt_by__isnull=False),
                name="sheet_dealt_with_says_by_whom",
            ),
        ]
        indexes = [
            models.Index(fields=["received_at"], condition=Q(state="unjudged"), name="sheet_not_looked_at"),
            models.Index(fields=["received_at"], condition=Q(dealt_at=None, state="kept"), name="sheet_kept_open"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.booking}, sent by {self.by}"

    def get_kind_display(self) -> str:
        return str(KINDS[self.kind])

    @property
    def clock_was_off(self) -> bool:
        return abs(timedelta(seconds=self.clock_ahead)) > CLOCK_MAY_BE_OFF

    @property
    def is_open(self) -> bool:
        """Whether somebody must still deal with it."""
        is_loud = self.state == SheetState.KEPT or (self.state == SheetState.MERGED and self.matters)
        return is_loud and self.dealt_at is None


class PausedSheet(models.Model):
    """What somebody has ticked so far, for themselves or for another to carry on. One for each member and check."""

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="paused_sheets")
    kind = models.CharField(max_length=6)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    began_at = models.DateTimeField()
    paused_at = models.DateTimeField()
    fields: models.JSONField[dict[str, str], dict[str, str]] = models.JSONField()
    seen = models.PositiveSmallIntegerField()
    total = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["booking", "kind", "by"], name="one_pause_a_member_and_check")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.booking}, paused by {self.by}"
