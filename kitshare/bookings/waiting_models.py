"""The waiting list: who waits in which place, and what was offered to whom.

The booking that waits says for which machines and days. It holds no day; while an offer to it is open, the days offered
are held for it in the one table that holds every day.
"""

from datetime import timedelta
from typing import ClassVar, Final

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.people.models import Member
from kitshare.rules.periods import Period

MOST_PLAY_DAYS: Final = 3


class WaitingPlace(models.Model):
    """Where a booking stands on the waiting list. It goes when the booking gets its days, and stays when it leaves."""

    booking = models.OneToOneField(
        "bookings.Booking", on_delete=models.CASCADE, related_name="waiting_place", primary_key=True
    )
    place = models.PositiveIntegerField(help_text="Smaller comes first; equal ones by the booking's key.")
    wanted_on = models.DateField(
        help_text="The day out that was asked for; while days are offered the booking has those."
    )
    play_days = models.PositiveSmallIntegerField(_("days earlier or later"), default=0)
    rests = models.BooleanField(
        default=False, help_text="Was offered the days that are free now and did not take them."
    )
    moved_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+", null=True)
    moved_at = models.DateTimeField(null=True)
    moved_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(play_days__lte=MOST_PLAY_DAYS), name="waiting_play_is_short"),
            models.CheckConstraint(
                condition=Q(moved_by__isnull=True, moved_at__isnull=True, moved_reason="")
                | (Q(moved_by__isnull=False, moved_at__isnull=False) & ~Q(moved_reason="")),
                name="waiting_place_moved_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.booking_id} in place {self.place}"

    @property
    def wanted(self) -> Period:
        """The days asked for. They last as long as the booking's own, whichever it has at the moment."""
        return Period(start=self.wanted_on, end=self.wanted_on + timedelta(days=self.booking.period.length))


class Standing(models.TextChoices):
    """What became of an offer."""

    OPEN = "open", _("open")
    ACCEPTED = "accepted", _("accepted")
    PASSED = "passed", _("passed")
    LAPSED = "lapsed", _("not answered in time")
    WITHDRAWN = "withdrawn", _("withdrawn")


class OfferQuerySet(models.QuerySet["Offer"]):
    def open(self) -> "OfferQuerySet":
        """Offers that wait for an answer."""
        return self.filter(standing=Standing.OPEN)

    def visible_to(self, member: Member) -> "OfferQuerySet":
        """All for those who run the scheme; a borrower sees those to their own villages."""
        if member.coordinates or member.maintains:
            return self
        return self.filter(booking__village__in=member.villages.all())


class Offer(models.Model):
    """Days offered to a booking that waits, until a moment."""

    booking = models.ForeignKey("bookings.Booking", on_delete=models.CASCADE, related_name="offers")
    out_on = models.DateField()
    back_on = models.DateField()
    made_at = models.DateTimeField()
    until = models.DateTimeField(help_text="It stands until a round finds that this moment is over.")
    standing = models.CharField(max_length=10, choices=Standing, default=Standing.OPEN)
    ended_at = models.DateTimeField(null=True)
    out_of_turn_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+", null=True)
    reason = models.CharField(max_length=300, blank=True, help_text="Why it was made out of turn, or withdrawn.")

    objects: ClassVar = OfferQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["booking"], condition=Q(standing="open"), name="one_open_offer_to_a_booking"
            ),
            models.CheckConstraint(
                condition=Q(standing="open", ended_at__isnull=True) | (~Q(standing="open") & Q(ended_at__isnull=False)),
                name="offer_that_ended_says_when",
            ),
            models.CheckConstraint(condition=Q(until__gt=F("made_at")), name="offer_stands_for_some_time"),
            models.CheckConstraint(condition=Q(back_on__gt=F("out_on")), name="offer_goes_out_before_it_is_back"),
        ]
        indexes = [models.Index(fields=["until"], condition=Q(standing="open"), name="offer_open_now")]

    def __str__(self) -> str:
        return f"offer {self.pk}, {self.standing}"

    @property
    def is_open(self) -> bool:
        return self.standing == Standing.OPEN

    @property
    def period(self) -> Period:
        return Period(start=self.out_on, end=self.back_on)
