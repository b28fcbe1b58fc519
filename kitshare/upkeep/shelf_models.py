"""What lies on the shelves of the depots: spares, and what is used up, with every movement that ever was."""

import uuid
from collections.abc import Iterable
from typing import ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Depot, Part
from kitshare.logbook.models import AddedRow, OnlyAdded
from kitshare.people.models import Member
from kitshare.rules.stocking import MOST_USED

MOST: Final = MOST_USED  # of one thing on one shelf
LONGEST_NAME: Final = 170  # the name of a part, and of its machine
LONGEST_LEAD_DAYS: Final = 730  # as far as `rules.stocking` goes


class ThingKind(models.TextChoices):
    SPARE = "spare", _("spare")
    CONSUMABLE = "consumable", _("consumable")


class Reason(models.TextChoices):
    """Why something came onto a shelf or left it."""

    DELIVERED = "delivered", _("delivered")
    COUNTED = "counted", _("counted")
    PUT_RIGHT = "put_right", _("put right: an earlier line was wrong")
    MENDING = "mending", _("used in a mending")
    GIVEN = "given", _("given to a booking")
    WORN_OUT = "worn_out", _("worn out")
    LOST = "lost", _("lost")
    THROWN_AWAY = "thrown_away", _("thrown away")
    MOVED_OUT = "moved_out", _("moved to another depot")
    MOVED_IN = "moved_in", _("moved here from another depot")


# What is gone by these will be needed again. What a count finds missing was used, though nobody wrote it down.
USED_UP: Final = (
    Reason.MENDING,
    Reason.GIVEN,
    Reason.WORN_OUT,
    Reason.LOST,
    Reason.THROWN_AWAY,
    Reason.COUNTED,
)
TAKEN: Final = (Reason.MENDING, Reason.GIVEN, Reason.WORN_OUT, Reason.LOST, Reason.THROWN_AWAY)
COUNTS: Final = (Reason.COUNTED, Reason.PUT_RIGHT)


class ThingQuerySet(models.QuerySet["ShelfThing"]):
    def in_use(self) -> "ThingQuerySet":
        return self.filter(retired_on=None)


class ShelfThing(models.Model):
    """A spare of a part, or something that is used up; counted in whole units."""

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=LONGEST_NAME)
    kind = models.CharField(_("kind"), max_length=10, choices=ThingKind, default=ThingKind.CONSUMABLE)
    part = models.ForeignKey(
        Part, on_delete=models.PROTECT, null=True, blank=True, related_name="spares", verbose_name=_("spare of")
    )
    unit = models.CharField(
        _("one of it is a"),
        max_length=30,
        help_text=_("Such as piece, sachet, bag of 1 kg. Only whole ones are counted."),
    )
    lead_days = models.PositiveSmallIntegerField(
        _("days until a delivery comes"),
        default=14,
        validators=[MaxValueValidator(LONGEST_LEAD_DAYS)],
        help_text=_("From the order to the shelf."),
    )
    note = models.TextField(
        _("note"), max_length=500, blank=True, help_text=_("The size that fits, where it comes from, how it is kept.")
    )
    retired_on = models.DateField(_("retired on"), null=True, blank=True)

    objects: ClassVar = ThingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("name"), condition=Q(retired_on=None), name="shelf_name_used_once"),
            models.UniqueConstraint(
                fields=["part"], condition=Q(retired_on=None), name="spares_of_a_part_counted_once"
            ),
            models.CheckConstraint(
                condition=Q(kind=ThingKind.SPARE, part__isnull=False) | Q(kind=ThingKind.CONSUMABLE, part__isnull=True),
                name="spare_names_its_part",
            ),
            models.CheckConstraint(
                condition=Q(lead_days__lte=LONGEST_LEAD_DAYS), name="shelf_delivery_within_two_years"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PlaceQuerySet(models.QuerySet["ShelfPlace"]):
    def counted(self) -> "PlaceQuerySet":
        """Each with what lies there now as `count`, and the number of its newest movement as `newest`."""
        last = ShelfMovement.objects.filter(place=OuterRef("pk")).order_by("-number")
        return self.annotate(count=Subquery(last.values("balance")[:1]), newest=Subquery(last.values("number")[:1]))

    def in_use(self) -> "PlaceQuerySet":
        return self.filter(thing__retired_on=None)

    def by_depot(self) -> "PlaceQuerySet":
        return self.order_by("depot__name", "depot_id", "thing__name", "pk")

    def spares_of(self, parts: Iterable[Part]) -> dict[int, int]:
        """How many spares of each of some parts lie at the depot of its kit, by the key of the part. One query."""
        at_home = self.in_use().filter(thing__part__in=list(parts), depot=F("thing__part__machine__kit__depot"))
        return dict(at_home.counted().values_list("thing__part_id", "count"))  # type: ignore[misc]


class ShelfPlace(models.Model):
    """That a thing is kept at a depot, and how many must be there at least if the scheme says so itself."""

    thing = models.ForeignKey(ShelfThing, on_delete=models.PROTECT, related_name="places")
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="shelf_places")
    least_count = models.PositiveIntegerField(
        _("least count"), null=True, blank=True, validators=[MaxValueValidator(MOST)]
    )

    objects: ClassVar = PlaceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["thing", "depot"], name="shelf_thing_once_a_depot"),
            models.CheckConstraint(
                condition=Q(least_count__isnull=True) | Q(least_count__lte=MOST), name="shelf_least_count_sensible"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.thing}, {self.depot}"


class MovementQuerySet(OnlyAdded["ShelfMovement"]):
    def newest_first(self) -> "MovementQuerySet":
        return self.order_by("-at", "-pk")


class ShelfMovement(AddedRow):
    """One line of the ledger: how many were there before, how many came or went, how many are there then.

    The lines of a place are numbered from 1 without a gap, and each begins with what the one before left: so the
    changes sum to what lies there, which is never less than nothing.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    place = models.ForeignKey(ShelfPlace, on_delete=models.PROTECT, related_name="movements", db_index=False)
    number = models.PositiveIntegerField(validators=[MinValueValidator(1)])
    reason = models.CharField(max_length=12, choices=Reason)
    before = models.PositiveIntegerField()
    change = models.IntegerField()
    balance = models.PositiveIntegerField()
    note = models.CharField(max_length=500, blank=True)
    fault = models.ForeignKey("upkeep.Fault", on_delete=models.PROTECT, null=True, related_name="used")
    booking_key = models.BigIntegerField(null=True, help_text="Of the booking it went to: bookings lie above upkeep.")
    by = models.ForeignKey(
        Member, on_delete=models.PROTECT, null=True, related_name="+", help_text="Nobody: the site itself."
    )
    at = models.DateTimeField()

    objects: ClassVar = MovementQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["place", "number"], name="shelf_movements_in_a_row"),
            models.CheckConstraint(condition=Q(balance__gte=0, balance__lte=MOST), name="shelf_never_under_nothing"),
            models.CheckConstraint(condition=Q(balance=F("before") + F("change")), name="shelf_movement_adds_up"),
            models.CheckConstraint(condition=Q(number=1, before=0) | Q(number__gt=1), name="shelf_begins_with_nothing"),
            models.CheckConstraint(
                condition=Q(change__lt=0, reason__in=[*TAKEN, Reason.MOVED_OUT])
                | Q(change__gt=0, reason__in=[Reason.DELIVERED, Reason.MOVED_IN])
                | Q(reason__in=COUNTS),
                name="shelf_reason_fits_the_change",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.place}, {self.number}"

    @property
    def used(self) -> int:
        """How many went, 0 or fewer where they came."""
        return -self.change

    @property
    def signed_change(self) -> str:
        """Such as "+3" or "−3"."""
        return f"{self.change:+d}".replace("-", "\N{MINUS SIGN}")
