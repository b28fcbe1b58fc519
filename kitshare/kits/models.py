"""What exists, and what must travel together: depots, kits, machines, parts."""

from datetime import date
from pathlib import PurePosixPath
from typing import Any, ClassVar, Final
from uuid import UUID

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Prefetch, Q
from django.utils.translation import gettext_lazy as _

from kitshare.kits import code_models  # noqa: F401 - so that Django finds it: it names kits and machines by a string
from kitshare.kits.weight_fields import weight_field, weight_within_bounds
from kitshare.people.models import FeedOwner
from kitshare.rules.checklists import PartKind

PART_KINDS = [
    (PartKind.VITAL.value, _("vital part")),
    (PartKind.GUARD.value, _("guard part")),
    (PartKind.COUNTED.value, _("counted part")),
    (PartKind.CONSUMABLE.value, _("consumable")),
    (PartKind.ORDINARY.value, _("ordinary part")),
]


class KitShape(models.TextChoices):
    """Kits are told apart by name, shape and colour together."""

    SQUARE = "square", _("square, red")
    ROUND = "round", _("round, plum")
    WEDGE = "wedge", _("wedge, pine")
    BAR = "bar", _("bar, brown")


class MachineKind(models.TextChoices):
    MILL = "mill", _("mill")
    PRESS = "press", _("press")
    PASTEURISER = "pasteuriser", _("pasteuriser")
    OTHER = "other", _("other machine")


class Depot(models.Model):
    """Where a kit lives between outings."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    directions = models.TextField(_("how to find it"), max_length=2000, blank=True)

    def __str__(self) -> str:
        return self.name


class KitQuerySet(models.QuerySet["Kit"]):
    def in_use(self) -> "KitQuerySet":
        return self.filter(retired_on=None)

    def with_machines(self) -> "KitQuerySet":
        """Each kit with its machines in use, in packing order, as `kit.machines_in_use`."""
        machines = Machine.objects.in_use().order_by("position", "pk")
        return self.prefetch_related(Prefetch("machines", queryset=machines, to_attr="machines_in_use"))


class Kit(FeedOwner):
    """Machines and parts that travel together. A machine that travels alone is a kit of one."""

    name = models.CharField(_("name"), max_length=60, unique=True)
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="kits", verbose_name=_("depot"))
    shape = models.CharField(_("shape and colour"), max_length=10, choices=KitShape, default=KitShape.SQUARE)
    care_days = models.PositiveSmallIntegerField(
        _("days for cleaning and drying"),
        default=1,
        validators=[MaxValueValidator(14)],
        help_text=_("After each return nobody else has the kit for so many days."),
    )
    note = models.TextField(_("note"), max_length=2000, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    objects: ClassVar = KitQuerySet.as_manager()

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(care_days__lte=14), name="kit_care_is_two_weeks_at_most")]

    def __str__(self) -> str:
        return self.name


# What the figures of a machine may be. The rules of the press day and of heating take no more and no less.
FIGURE_BOUNDS: Final = {
    "kg_per_hour": (1, 20_000),
    "power_watts": (0, 60_000),
    "cheese_kg": (5, 2000),
    "cloths_per_cheese": (1, 60),
    "bath_litres": (1, 2000),
    "bath_bottles": (1, 500),
    "loss_w_per_k": (0, 1000),
}
FIGURES_OF: Final = {
    MachineKind.MILL.value: ("kg_per_hour", "power_watts"),
    MachineKind.PRESS.value: ("kg_per_hour", "cheese_kg", "cloths_per_cheese", "power_watts"),
    MachineKind.PASTEURISER.value: ("power_watts", "bath_litres", "bath_bottles", "loss_w_per_k"),
    MachineKind.OTHER.value: ("power_watts",),
}


def _figure(name: str) -> dict[str, Any]:
    least, most = FIGURE_BOUNDS[name]
    return {"validators": [MinValueValidator(least), MaxValueValidator(most)]}


def _figures_within_bounds() -> Q:
    within = Q()
    for name, (least, most) in FIGURE_BOUNDS.items():
        within &= Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__gte": least, f"{name}__lte": most})
    return within


class MachineFigures(models.Model):
    """What a machine does and draws, for plans of a day. Nothing: the plan takes the usual figure and says so."""

    kg_per_hour = models.PositiveIntegerField(
        _("kilograms of fruit in an hour"),
        help_text=_("As it goes on an ordinary day, with the pauses: not what its plate promises."),
        null=True,
        blank=True,
        **_figure("kg_per_hour"),
    )
    power_watts = models.PositiveIntegerField(
        _("power in watts"),
        help_text=_("From its plate; 0 for a machine that is worked by hand."),
        null=True,
        blank=True,
        **_figure("power_watts"),
    )
    cheese_kg = models.DecimalField(
        _("kilograms of fruit in one cheese"),
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        **_figure("cheese_kg"),
    )
    cloths_per_cheese = models.PositiveSmallIntegerField(
        _("cloths in one cheese"),
        help_text=_("As many as there are layers."),
        null=True,
        blank=True,
        **_figure("cloths_per_cheese"),
    )
    bath_litres = models.DecimalField(
        _("litres of water in the bath"),
        max_digits=6,
        decimal_places=1,
        help_text=_("With the rack full of bottles: less than the empty bath takes."),
        null=True,
        blank=True,
        **_figure("bath_litres"),
    )
    bath_bottles = models.PositiveSmallIntegerField(
        _("bottles of 0.75 litres in the rack"),
        help_text=_("Other sizes are reckoned from it by volume."),
        null=True,
        blank=True,
        **_figure("bath_bottles"),
    )
    loss_w_per_k = models.DecimalField(
        _("watts lost for each degree over the air"),
        max_digits=5,
        decimal_places=1,
        help_text=_(
            "Leave it empty unless it was measured: heat records tell it better."
            " An open bath of 100 litres loses about 16."
        ),
        null=True,
        blank=True,
        **_figure("loss_w_per_k"),
    )

    class Meta:
        abstract = True


class MachineQuerySet(models.QuerySet["Machine"]):
    def in_use(self) -> "MachineQuerySet":
        return self.filter(retired_on=None, kit__retired_on=None)


class Machine(MachineFigures):
    """What a booking asks for, together with the rest of its kit or singly."""

    kit = models.ForeignKey(Kit, on_delete=models.PROTECT, related_name="machines", verbose_name=_("kit"))
    name = models.CharField(_("name"), max_length=60)
    kind = models.CharField(_("kind"), max_length=12, choices=MachineKind)
    caution = models.TextField(_("caution"), max_length=1000, blank=True, help_text=_("Shown at every check."))
    weight_kg = weight_field(_("its weight in kilograms"), _("As people lift it. Empty where nobody has weighed it."))
    position = models.PositiveSmallIntegerField(_("order of packing"), default=0)
    retired_on = models.DateField(null=True, blank=True)

    objects: ClassVar = MachineQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kit", "name"], name="machine_named_once_a_kit"),
            models.CheckConstraint(condition=_figures_within_bounds(), name="machine_figures_are_believable"),
            models.CheckConstraint(condition=weight_within_bounds(), name="machine_weight_is_believable"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def figures(self) -> tuple[str, ...]:
        """The names of the figures that a machine of this kind has."""
        return FIGURES_OF.get(self.kind, ())


class PartQuerySet(models.QuerySet["Part"]):
    def travelling(self) -> "PartQuerySet":
        """Parts in use, in the order in which one packs."""
        return self.filter(retired_on=None).order_by("machine__position", "machine_id", "position", "pk")

    def pictured(self, key: UUID) -> "PartQuerySet":
        """The part to which a picture belongs now."""
        return self.filter(picture=f"parts/{key}.jpg")


class Part(models.Model):
    """Anything that must travel with a machine, leave whole and come back whole."""

    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="parts", verbose_name=_("machine"))
    also_serves = models.ManyToManyField(
        Machine,
        related_name="shared_parts",
        blank=True,
        verbose_name=_("also serves"),
        help_text=_("It travels once, with the first machine booked that it serves."),
    )
    name = models.CharField(_("name"), max_length=80)
    number = models.CharField(
        _("number stamped on it"), max_length=8, blank=True, help_text=_("Shown as a disc at checks.")
    )
    kind = models.CharField(_("kind"), max_length=12, choices=PART_KINDS, default=PartKind.ORDINARY.value)
    expected_count = models.PositiveSmallIntegerField(
        _("how many travel"), default=1, validators=[MinValueValidator(1), MaxValueValidator(1000)]
    )
    packed_in = models.CharField(
        _("where it travels"), max_length=80, blank=True, help_text=_("The tray, crate or box.")
    )
    weight_kg = weight_field(
        _("weight of one in kilograms"), _("0 for what weighs next to nothing. Empty where nobody has weighed it.")
    )
    caution = models.TextField(_("caution"), max_length=1000, blank=True)
    look_for = models.TextField(_("what to look for"), max_length=1000, blank=True)
    picture = models.ImageField(
        _("picture"),
        upload_to="parts/",
        blank=True,
        help_text="Named anew with each picture, so that a name stays true.",
    )
    spares_held = models.PositiveSmallIntegerField(
        default=0, editable=False, help_text="Of before there was a shelf: counted in `upkeep.ShelfMovement` since."
    )
    position = models.PositiveSmallIntegerField(_("order of packing"), default=0)
    retired_on = models.DateField(null=True, blank=True)

    objects: ClassVar = PartQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expected_count__gte=1, expected_count__lte=1000), name="part_travels_in_a_sensible_number"
            ),
            models.CheckConstraint(condition=weight_within_bounds(), name="part_weight_is_believable"),
            models.UniqueConstraint(
                fields=["machine", "name"], condition=Q(retired_on=None), name="part_in_use_named_once_a_machine"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def stops_a_handover(self) -> bool:
        """Whether nobody may take the machine without it: a vital or a guard part."""
        return self.kind in {PartKind.VITAL, PartKind.GUARD}

    @property
    def picture_key(self) -> str:
        """What its picture is asked for by; empty without one. A picture put in its place has another."""
        return PurePosixPath(self.picture.name or "").stem

    def is_retired_on(self, day: date) -> bool:
        return self.retired_on is not None and self.retired_on <= day
