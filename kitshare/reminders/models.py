"""Which reminder goes to whom, when and by which channel: rows that the coordinator edits.

What was told stands in the outbox, as ever. A row only says what is to be told.
"""

from datetime import time
from typing import ClassVar, Final

from django.db import models
from django.db.models import Q, Value
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

MOST_DAYS: Final = 90
MOST_HOURS: Final = 72
NO_DAYS: Final = 999  # stands in the place of none where rows are compared


class Kind(models.TextChoices):
    """What a reminder is about. The values go with each message, and are never changed."""

    BRIEFING = "briefing", _("Briefing not read")
    PICKUP = "pickup", _("Pickup soon")
    BRING = "bring", _("Where, when and what to bring")
    RELAY = "relay", _("Relay soon")
    RETURN = "return", _("Return due")
    OVERDUE = "overdue", _("Not back yet")
    CLEAN_DOWN = "clean-down", _("Clean-down owed")
    OFFER = "offer", _("Offer runs out")
    FAULT = "fault", _("Fault on the next booking")
    TEST_FIRST = "test-first", _("Safety test before a booking")
    LATE_KIT = "late-kit", _("Kit not back before the next booking")
    SERVICE = "service", _("Service due")
    BY_USE = "by-use", _("Service due by use")
    TEST = "test", _("Safety test due")
    SEASON_OPENS = "season-opens", _("Season opens")
    SEASON_CLOSES = "season-closes", _("Season closes")
    LAY_UP = "lay-up", _("Lay-up")


# A warning of these is a matter of safety: no member can refuse it, and the scheme's usual row of it stays on.
SAFETY: Final = (Kind.FAULT, Kind.TEST_FIRST, Kind.LATE_KIT, Kind.TEST)


class Addressed(models.TextChoices):
    """Whom a row is for."""

    BORROWER = "borrower", _("the borrower")
    BOTH = "both", _("the borrower and the coordinators")
    COORDINATORS = "coordinators", _("the coordinators")
    MAINTAINERS = "maintainers", _("the maintenance volunteers")
    BORROWERS = "borrowers", _("everybody who borrows")
    EVERYBODY = "everybody", _("every member")


class By(models.TextChoices):
    """By which channel. Whoever has no e-mail address is telephoned in any case."""

    MAIL = "mail", _("by mail")
    CALL = "call", _("by telephone")
    BOTH = "both", _("by mail and by telephone")


class ReminderRowQuerySet(models.QuerySet["ReminderRow"]):
    def on(self) -> "ReminderRowQuerySet":
        return self.filter(is_on=True)

    def in_order(self) -> "ReminderRowQuerySet":
        """Those of a kind together, the earliest first."""
        return self.order_by("kind", "days", "-hours", "pk")


class ReminderRow(models.Model):
    """One reminder of the scheme's policy.

    Either it goes so many days before (less than 0) or after a day, at a time of the scheme's own clock; or so many
    hours before a moment; or as soon as a thing is known, and then not before a time of day, if it names one.
    """

    kind = models.CharField(_("reminder"), max_length=14, choices=Kind)
    addressed = models.CharField(_("to whom"), max_length=12, choices=Addressed)
    days = models.SmallIntegerField(null=True, blank=True, help_text="After the day; less than 0 before it.")
    at = models.TimeField(_("at what time"), null=True, blank=True)
    hours = models.PositiveSmallIntegerField(_("hours before"), null=True, blank=True)
    by = models.CharField(_("by which channel"), max_length=4, choices=By, default=By.MAIL)
    is_on = models.BooleanField(_("is sent"), default=True)
    usual = models.CharField(
        max_length=20, null=True, blank=True, unique=True, help_text="Which of the usual rows it is; none if added."
    )

    objects: ClassVar = ReminderRowQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(days__isnull=False, at__isnull=False, hours__isnull=True)
                | Q(days__isnull=True, at__isnull=True, hours__isnull=False)
                | Q(days__isnull=True, hours__isnull=True),
                name="reminder_row_says_one_time",
            ),
            models.CheckConstraint(
                condition=Q(days__isnull=True) | Q(days__gte=-MOST_DAYS, days__lte=MOST_DAYS),
                name="reminder_row_is_near_its_day",
            ),
            models.CheckConstraint(
                condition=Q(hours__isnull=True) | Q(hours__gte=1, hours__lte=MOST_HOURS),
                name="reminder_row_is_near_its_moment",
            ),
            models.CheckConstraint(
                condition=Q(is_on=True) | Q(usual__isnull=True) | ~Q(kind__in=[kind.value for kind in SAFETY]),
                name="reminder_of_safety_stays_on",
            ),
            # Two rows that told the same people of the same thing on the same day would be one reminder too many.
            models.UniqueConstraint(
                "kind",
                "addressed",
                Coalesce("days", Value(NO_DAYS)),
                Coalesce("hours", Value(0)),
                name="reminder_row_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} ({self.pk})"

    @property
    def hour(self) -> time:
        """When on its day it goes; only a row that goes by days has one."""
        assert self.at is not None  # noqa: S101 - reminder_row_says_one_time
        return self.at

    @property
    def is_of_safety(self) -> bool:
        return self.kind in SAFETY

    @property
    def stays_on(self) -> bool:
        """Whether nobody may switch it off."""
        return self.is_of_safety and self.usual is not None
