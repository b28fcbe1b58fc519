"""What was seen at each handover."""

import uuid
from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.checks import sent_models  # noqa: F401 - so that Django finds them: they name a check by a string
from kitshare.kits.models import Part
from kitshare.people.models import Member
from kitshare.rules.checklists import Condition
from kitshare.upkeep.models import Fault

CONDITIONS = [
    (Condition.SOUND.value, _("sound")),
    (Condition.WORN.value, _("worn")),
    (Condition.DAMAGED.value, _("damaged")),
    (Condition.MISSING.value, _("missing")),
]


class CheckKind(models.TextChoices):
    PICKUP = "pickup", _("pickup check")
    RETURN = "return", _("return check")
    RELAY = "relay", _("relay check")


# The checks with which a kit goes out with a village: from the depot, or from the village before.
GOES_OUT = (CheckKind.PICKUP, CheckKind.RELAY)


class Outcome(models.TextChoices):
    HANDED_OVER = "handed_over", _("handed over")
    STOPPED = "stopped", _("stopped")


class SignedRole(models.TextChoices):
    """In what part the person who signed stood there."""

    BORROWER = "borrower", _("borrower")
    DEPOT = "depot", _("for the depot")
    HELPER = "helper", _("helper of the village")


class HandoverCheckQuerySet(models.QuerySet["HandoverCheck"]):
    def of(self, booking: Booking) -> "HandoverCheckQuerySet":
        """Those at either end of a booking."""
        return self.filter(Q(booking=booking) | Q(from_booking=booking))

    def in_spite(self) -> "HandoverCheckQuerySet":
        """Those with which a kit went out though the gates refused."""
        return self.filter(outcome=Outcome.HANDED_OVER).exclude(in_spite="")

    def visible_to(self, member: Member) -> "HandoverCheckQuerySet":
        """Those of the bookings that a member may see; a relay check is for both of its villages."""
        mine = Booking.objects.visible_to(member)
        return self.filter(Q(booking__in=mine) | Q(from_booking__in=mine))


class HandoverCheck(models.Model):
    """The parts ticked and the condition seen at one end of a booking.

    A relay check stands at an end of two: it belongs to the booking that takes the kit on, and names the one that hands
    it over. Two people sign it, one of each village.

    The key is made with the form, so that a check sent twice is one check. A pickup that was stopped is kept too,
    and may be followed by another; a booking is handed over once and comes back once.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="handover_checks")
    kind = models.CharField(max_length=6, choices=CheckKind)
    outcome = models.CharField(max_length=12, choices=Outcome)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    signed_name = models.CharField(_("name of the person who signs"), max_length=120)
    signed_role = models.CharField(_("who signs"), max_length=10, choices=SignedRole)
    from_booking = models.ForeignKey(
        Booking, on_delete=models.PROTECT, related_name="relay_checks", null=True, blank=True
    )
    taken_name = models.CharField(_("name of the person who takes it on"), max_length=120, blank=True)
    is_clean = models.BooleanField(
        _("cleaned down"), null=True, blank=True, help_text="At a relay; where it is not, the first village owes it."
    )
    note = models.TextField(_("note"), max_length=2000, blank=True)
    done_at = models.DateTimeField(help_text="When it was signed.")
    written_at = models.DateTimeField(
        null=True, blank=True, help_text="When it came here, if it was signed on a phone without signal or on paper."
    )
    on_paper = models.BooleanField(default=False, help_text="Signed on paper, and typed in by a coordinator.")
    in_spite = models.TextField(blank=True, help_text="What stood in the way of a handover that happened all the same.")
    not_seen = models.ManyToManyField(Part, related_name="+", help_text="Parts that came along and nobody looked at.")
    digest = models.CharField(max_length=64, help_text="Of all that was sent, so that a changed sheet is told apart.")

    objects: ClassVar = HandoverCheckQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["booking", "kind"], condition=Q(outcome="handed_over"), name="booking_handed_over_once"
            ),
            models.UniqueConstraint(
                fields=["booking"],
                condition=Q(outcome="handed_over", kind__in=["pickup", "relay"]),
                name="booking_goes_out_once",
            ),
            models.UniqueConstraint(
                fields=["from_booking"], condition=Q(outcome="handed_over"), name="booking_handed_on_once"
            ),
            models.CheckConstraint(
                condition=(Q(kind="relay", from_booking__isnull=False, is_clean__isnull=False) & ~Q(taken_name=""))
                | (~Q(kind="relay") & Q(from_booking__isnull=True, is_clean__isnull=True, taken_name="")),
                name="relay_check_names_both",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.booking}"

    @property
    def owes_clean_down(self) -> bool:
        """Whether the kit was handed on before it was cleaned down."""
        return self.is_clean is False and self.outcome == Outcome.HANDED_OVER

    @property
    def known_at(self) -> datetime:
        """When it came here; for a check that was signed here, when it was signed."""
        return self.written_at or self.done_at

    @property
    def went_in_spite(self) -> bool:
        """Whether the kit went out though the gates refused."""
        return bool(self.in_spite) and self.outcome == Outcome.HANDED_OVER


def photo_place(photo: "Photo", _sent_name: str) -> str:
    """Where a photo lies: named by its own key, never by what a phone called it."""
    return f"checks/{photo.taken_at:%Y/%m}/{photo.key}.jpg"


class PhotoQuerySet(models.QuerySet["Photo"]):
    def visible_to(self, member: Member) -> "PhotoQuerySet":
        """Those of the bookings that a member may see, and their own.

        Whom a relay joins sees the relay check alike, and the taking village how the kit first went out.
        """
        mine = Booking.objects.visible_to(member)
        at_relay = Q(check_of__from_booking__in=mine)
        as_it_went_out = Q(check_of__kind__in=GOES_OUT, check_of__booking__relay_onwards__second__in=mine)
        shared = CheckLine.objects.filter(at_relay | as_it_went_out).values("photo")
        return self.filter(Q(booking__in=mine) | Q(taken_by=member) | Q(pk__in=shared))


class Photo(models.Model):
    """A picture of a part as it was seen. It is kept as soon as it arrives, so that a refused form does not lose it.

    The same picture sent again for the same booking is the same photo: a check sent twice stays one check.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="photos")
    image = models.ImageField(upload_to=photo_place)
    digest = models.CharField(max_length=64, help_text="Of the picture as it was sent.")
    taken_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    objects: ClassVar = PhotoQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["booking", "digest"], name="photo_kept_once_a_booking")]

    def __str__(self) -> str:
        return str(self.key)


class CheckLineQuerySet(models.QuerySet["CheckLine"]):
    def in_packing_order(self) -> "CheckLineQuerySet":
        return self.order_by("part__machine__position", "part__machine_id", "part__position", "part_id")


class CheckLine(models.Model):
    """One part at one check: how many were there, and in what condition."""

    check_of = models.ForeignKey(HandoverCheck, on_delete=models.PROTECT, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="check_lines")
    expected_count = models.PositiveSmallIntegerField()
    count = models.PositiveSmallIntegerField()
    condition = models.CharField(max_length=8, choices=CONDITIONS)
    spare_fitted = models.BooleanField(default=False)
    note = models.CharField(max_length=500, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="lines")
    fault = models.ForeignKey(Fault, on_delete=models.PROTECT, null=True, blank=True, related_name="found_in")

    objects: ClassVar = CheckLineQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["check_of", "part"], name="part_seen_once_a_check")]

    def __str__(self) -> str:
        return f"{self.part}: {self.count}, {self.get_condition_display()}"
