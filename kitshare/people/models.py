"""The scheme, the villages that borrow, and the members who sign."""

import secrets
import zoneinfo
from datetime import UTC, time
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from kitshare.people.terms import PressDayTerms
from kitshare.rules.electrics import RuleSet
from kitshare.rules.hearing import Wishes
from kitshare.rules.stocking import LEAST_ONE_IN, MOST_ONE_IN, ONE_SEASON_IN


def new_feed_token() -> str:
    """An address part that cannot be guessed: 32 letters and figures."""
    return secrets.token_hex(16)


class FeedOwner(models.Model):
    """Whoever has a calendar that others subscribe to. Without a token it has no address, and nobody can."""

    feed_token = models.CharField(max_length=64, default=new_feed_token, unique=True, null=True, blank=True)

    class Meta:
        abstract = True


# Where anybody presses apples, with room to spare: the Dead Sea and the high Andes.
LOWEST_M, HIGHEST_M = -430, 5000


class Units(models.TextChoices):
    METRIC = "metric", _("kilograms and litres")
    IMPERIAL = "imperial", _("pounds and imperial gallons")
    US = "us", _("pounds and US gallons")


class ElectricalRules(models.TextChoices):
    NONE = "", _("none of these: readings are kept, and compared with nothing")
    UNITED_KINGDOM = RuleSet.UNITED_KINGDOM.value, _("United Kingdom")
    GERMANY = RuleSet.GERMANY.value, _("Germany")


class SchemeManager(models.Manager["Scheme"]):
    def current(self) -> "Scheme | None":
        """The one scheme that this site serves; none before the first run."""
        return self.first()


class Scheme(PressDayTerms, FeedOwner):
    """The community group that owns the kits and runs this site. There is one row."""

    name = models.CharField(_("name of the scheme"), max_length=80)
    time_zone = models.CharField(_("time zone"), max_length=60, default="UTC")
    units = models.CharField(_("units shown"), max_length=10, choices=Units, default=Units.METRIC)
    telephone = models.CharField(
        _("coordinator's telephone"), max_length=40, help_text=_("Shown in the same place on every page.")
    )
    is_demonstration = models.BooleanField(default=False)
    out_time = models.TimeField(_("usual time of collection"), default=time(10))
    back_time = models.TimeField(_("usual time of return"), default=time(9))
    offer_hours = models.PositiveSmallIntegerField(
        _("hours to answer an offer"),
        default=24,
        validators=[MinValueValidator(1), MaxValueValidator(168)],
        help_text=_("How long freed days are kept for the first who waits. Shorter by itself when the days are near."),
    )
    holiday_country = models.CharField(
        _("country of the holidays"),
        max_length=2,
        blank=True,
        help_text="Two letters (ISO 3166-1); empty: none are shown.",
    )
    holiday_part = models.CharField(
        _("part of the country"), max_length=20, blank=True, help_text="As the package of holidays spells it."
    )

    altitude_m = models.SmallIntegerField(
        _("metres above the sea"),
        default=0,
        validators=[MinValueValidator(LOWEST_M), MaxValueValidator(HIGHEST_M)],
        help_text=_("Of the place where probes are checked: water boils at 99 °C at 300 m."),
    )
    best_before_months = models.PositiveSmallIntegerField(
        _("months that heated juice keeps"),
        default=18,
        validators=[MinValueValidator(1), MaxValueValidator(36)],
        help_text=_("For the best-before day on labels; 18 is common practice, cool and dark."),
    )
    electrical_rules = models.CharField(
        _("country of the electrical limits"),
        max_length=2,
        blank=True,
        choices=ElectricalRules,
        default=ElectricalRules.NONE,
        help_text=_("Readings of safety tests are compared with its limits, and with those of no other country."),
    )

    shortage_one_in = models.PositiveSmallIntegerField(
        _("seasons in which the shelf may run out"),
        default=ONE_SEASON_IN,
        validators=[MinValueValidator(LEAST_ONE_IN), MaxValueValidator(MOST_ONE_IN)],
        help_text=_("One in so many. The larger the number, the more is kept."),
    )

    objects: ClassVar = SchemeManager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_scheme_a_site"),
            models.CheckConstraint(
                condition=Q(altitude_m__gte=LOWEST_M, altitude_m__lte=HIGHEST_M), name="scheme_lies_where_people_live"
            ),
            models.CheckConstraint(
                condition=Q(best_before_months__gte=1, best_before_months__lte=36),
                name="juice_keeps_a_month_to_three_years",
            ),
            models.CheckConstraint(
                condition=Q(shortage_one_in__gte=LEAST_ONE_IN, shortage_one_in__lte=MOST_ONE_IN),
                name="shelf_runs_out_sometimes",
            ),
            models.CheckConstraint(
                condition=Q(offer_hours__gte=1, offer_hours__lte=168), name="offers_stand_an_hour_to_a_week"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        """The scheme's time zone; UTC if the system no longer knows its name."""
        try:
            return zoneinfo.ZoneInfo(self.time_zone)
        except (zoneinfo.ZoneInfoNotFoundError, ValueError):
            return zoneinfo.ZoneInfo("UTC")


class MemberQuerySet(models.QuerySet["Member"]):
    def active(self) -> "MemberQuerySet":
        return self.filter(is_active=True)

    def coordinating(self) -> "MemberQuerySet":
        return self.active().filter(coordinates=True).order_by("pk")

    def maintaining(self) -> "MemberQuerySet":
        return self.active().filter(maintains=True).order_by("pk")


class MemberManager(BaseUserManager["Member"].from_queryset(MemberQuerySet)):  # type: ignore[misc]
    """Finds a member by e-mail address, whatever the case in which it was typed."""

    def get_by_natural_key(self, username: str | None) -> "Member":
        return self.get(email__iexact=username)  # type: ignore[no-any-return]


class Member(FeedOwner, AbstractBaseUser):
    """A person of the scheme. Each role is a claim, and a member may have several."""

    email = models.EmailField(
        _("e-mail address"),
        null=True,
        blank=True,
        unique=True,
        help_text=_("Without one, the coordinator telephones instead."),
    )
    name = models.CharField(_("name"), max_length=120)
    telephone = models.CharField(_("telephone"), max_length=40, blank=True)
    coordinates = models.BooleanField(_("coordinator"), default=False)
    borrows = models.BooleanField(_("borrower"), default=False)
    maintains = models.BooleanField(_("maintenance volunteer"), default=False)
    is_active = models.BooleanField(_("may sign in"), default=True)
    form_key = models.UUIDField(
        null=True, unique=True, editable=False, help_text="Of the form that added them: sent twice, it is one member."
    )

    language = models.CharField(_("language"), max_length=12, blank=True, default="", db_default="")
    digest_at = models.TimeField(_("one letter a day, at"), null=True, blank=True)
    quiet_from = models.TimeField(_("quiet from"), null=True, blank=True)
    quiet_until = models.TimeField(_("quiet until"), null=True, blank=True)
    wants_reminders = models.BooleanField(_("reminders"), default=True, db_default=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    objects: ClassVar = MemberManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("email"), name="member_address_used_once"),
            models.CheckConstraint(
                condition=Q(quiet_from=None, quiet_until=None)
                | (Q(quiet_from__isnull=False, quiet_until__isnull=False) & ~Q(quiet_from=F("quiet_until"))),
                name="quiet_hours_have_two_ends",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Keep the address as it was typed: an empty one is none, so that two members may have none."""
        self.email = self.email or None

    def wishes(self) -> Wishes:
        """How they want to be told. One query where a choice goes by the scheme's clock; none for most."""
        goes_by_clock = self.digest_at is not None or self.quiet_from is not None
        scheme = Scheme.objects.current() if goes_by_clock else None
        return Wishes(
            zone=scheme.zone if scheme else UTC,
            digest_at=self.digest_at,
            quiet_from=self.quiet_from,
            quiet_until=self.quiet_until,
            reminders=self.wants_reminders,
            language=self.language,
        )

    @property
    def may_ask(self) -> bool:
        """Whether they may ask for machines, for one village or another."""
        return self.borrows or self.coordinates

    def acts_for(self, village: "Village") -> bool:
        """Whether they may act for a village: a coordinator for any, a borrower for those they sign for. One query."""
        return self.coordinates or (self.borrows and village.borrowers.contains(self))

    @property
    def role_names(self) -> list[str]:
        """The member's roles in words, in a fixed order."""
        pairs = [
            (self.coordinates, _("coordinator")),
            (self.borrows, _("borrower")),
            (self.maintains, _("maintenance volunteer")),
        ]
        return [str(word) for has, word in pairs if has]


class VillageQuerySet(models.QuerySet["Village"]):
    def borrowing(self) -> "VillageQuerySet":
        """Villages that may borrow now."""
        return self.filter(left_on=None)

    def of(self, member: Member) -> "VillageQuerySet":
        """The villages for which a member may ask: all for a coordinator, else those they sign for."""
        return self.borrowing() if member.coordinates else self.borrowing().filter(borrowers=member)


class Village(FeedOwner):
    """A group that borrows; its borrowers sign for it."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    note = models.TextField(
        _("note"), max_length=2000, blank=True, help_text=_("How to get there, where to park, what floods.")
    )
    borrowers = models.ManyToManyField(Member, related_name="villages", blank=True, verbose_name=_("who signs for it"))
    left_on = models.DateField(_("left the scheme on"), null=True, blank=True)

    objects: ClassVar = VillageQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name


class SignInTry(models.Model):
    """A try to sign in that has not succeeded. Kept for minutes, as keyed hashes: what was typed is not kept."""

    address_key = models.CharField(max_length=64)
    client_key = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["address_key", "at"], name="sign_in_try_by_address"),
            models.Index(fields=["client_key", "at"], name="sign_in_try_by_client"),
            models.Index(fields=["at"], name="sign_in_try_by_moment"),
        ]

    def __str__(self) -> str:
        return f"try at {self.at}"
