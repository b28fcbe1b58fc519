"""A relay: one village hands the kit straight to the next, without the depot between."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.people.models import Member


class RelayQuerySet(models.QuerySet["Relay"]):
    def pending(self) -> "RelayQuerySet":
        """Arranged, and not handed on yet."""
        return self.filter(done_at=None)

    def of(self, booking: models.Model) -> "RelayQuerySet":
        """Those at either end of a booking."""
        return self.filter(Q(first=booking.pk) | Q(second=booking.pk))

    def with_bookings(self) -> "RelayQuerySet":
        people = ("first__village", "first__borrower", "second__village", "second__borrower")
        return self.select_related(*people)

    def visible_to(self, member: Member) -> "RelayQuerySet":
        """All for those who run the scheme; a borrower sees those of their own villages, at either end."""
        if member.coordinates or member.maintains:
            return self
        own = member.villages.all()
        return self.filter(Q(first__village__in=own) | Q(second__village__in=own))


class Relay(models.Model):
    """The first booking hands its machines to the second, on the day on which the one ends and the other begins.

    They meet at the second's time of collection, which is the first's time of return. While the relay stands the first
    has no care days: the handing village owes a clean-down instead, and the relay check asks for it.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    first = models.OneToOneField("bookings.Booking", on_delete=models.PROTECT, related_name="relay_onwards")
    second = models.OneToOneField("bookings.Booking", on_delete=models.PROTECT, related_name="relay_from")
    carried_by = models.CharField(_("who carries it"), max_length=120)
    meet_at = models.CharField(_("where they meet"), max_length=200)
    arranged_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    arranged_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True, help_text="When the relay check was signed.")

    objects: ClassVar = RelayQuerySet.as_manager()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(first=F("second")), name="relay_joins_two_bookings")]

    def __str__(self) -> str:
        return f"{self.first} → {self.second}"
