"""The briefing: how this scheme gives it, and who has confirmed it for which season."""

from typing import Final

from django.db import models
from django.db.models import OuterRef, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from kitshare.people.models import Member

# The words themselves stand in `briefing_text`. Whoever changes what they mean raises this: everybody is asked anew.
TEXT_VERSION: Final = 1


class BriefingSettings(models.Model):
    """What a scheme adds to the briefing, and what waits for it. There is one row, or none before anything was set."""

    own_words = models.TextField(
        _("own words, confirmed like the rest"),
        max_length=3000,
        blank=True,
        help_text=_("Local rules, who may lift the mill, where the water is turned off. Everybody confirms them anew."),
    )
    edition = models.PositiveIntegerField(default=1, help_text="Rises with each change of the own words.")
    holds_pickup = models.BooleanField(
        _("a pickup waits until the borrower has confirmed the briefing"),
        default=False,
        help_text=_("Otherwise the pickup check only says that it is not confirmed yet."),
    )

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_briefing_a_site")]

    def __str__(self) -> str:
        return f"{TEXT_VERSION}.{self.edition}"


class BriefingRead(models.Model):
    """That a member confirmed each point for a season, in one version of the words."""

    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="briefings")
    season = models.ForeignKey("bookings.Season", on_delete=models.PROTECT, related_name="briefings")
    text_version = models.PositiveSmallIntegerField()
    edition = models.PositiveIntegerField()
    points = models.CharField(max_length=300, help_text="The points that were confirmed, by their keys.")
    on_paper = models.BooleanField(default=False, help_text="A coordinator went through it with them.")
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["member", "season", "text_version", "edition"], name="briefing_confirmed_once_a_season"
            )
        ]

    def __str__(self) -> str:
        return f"{self.member}, {self.season}"


def _edition() -> Coalesce:
    return Coalesce(models.Subquery(BriefingSettings.objects.values("edition")[:1]), 1)


def confirmed() -> models.Exists:
    """Of a query of bookings: whether whoever signs confirmed the words in force for the season of the day out."""
    return models.Exists(
        BriefingRead.objects.filter(
            member=OuterRef("borrower"),
            text_version=TEXT_VERSION,
            edition=_edition(),
            season__opens_on__lte=OuterRef("out_on"),
            season__closes_on__gte=OuterRef("out_on"),
        )
    )


def holds_pickups() -> models.Exists:
    """Of any query: whether pickups wait for the briefing here."""
    return models.Exists(BriefingSettings.objects.filter(holds_pickup=True))
