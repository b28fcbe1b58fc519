"""Who helps on a press day, and from when till when."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.people.models import Member
from kitshare.rules.crew import MOST_HELPERS


class ClockPlan(models.Model):
    """The hands and the hours that a village has for its press day, as far as somebody has said so.

    Times of day are stored as the clock shows them; the day lies between them and does not pass midnight.
    """

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="clock")
    helpers = models.PositiveSmallIntegerField(
        _("helpers"), validators=[MinValueValidator(1), MaxValueValidator(MOST_HELPERS)]
    )
    starts_at = models.TimeField(_("start"))
    ends_at = models.TimeField(_("end"))
    one_more_bath = models.BooleanField(_("one more pasteuriser"), default=False)
    revision = models.PositiveIntegerField(
        default=1, help_text="Rises with each change, so that two tabs cannot differ."
    )
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(helpers__gte=1, helpers__lte=MOST_HELPERS), name="press_day_has_some_helpers"
            ),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="press_day_ends_after_it_starts"),
        ]

    def __str__(self) -> str:
        return f"clock of {self.booking}"
