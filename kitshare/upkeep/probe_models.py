"""Checks of probes: what one read in crushed ice and in boiling water, which says how far off its readings are."""

import uuid
from collections.abc import Iterable
from datetime import date
from typing import ClassVar, Final

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from kitshare.kits.models import Part
from kitshare.logbook.models import AddedRow, OnlyAdded
from kitshare.people.models import HIGHEST_M, LOWEST_M, Member
from kitshare.rules import probes

PRESSURE_HPA: Final = (500, 1100)


class ProbeCheckQuerySet(OnlyAdded["ProbeCheck"]):
    def newest_first(self) -> "ProbeCheckQuerySet":
        return self.order_by("-checked_on", "-pk")

    def in_force(self, *, part: Part, on: date) -> "ProbeCheck | None":
        """The last check of a probe up to a day, that day included."""
        return self.filter(part=part, checked_on__lte=on).newest_first().first()

    def last_of(self, parts: Iterable[Part]) -> "list[ProbeCheck]":
        """The last check of each of some parts, in one query."""
        newest: dict[int, ProbeCheck] = {}
        for check in self.filter(part__in=list(parts)).select_related("part").order_by("checked_on", "pk"):
            newest[check.part_id] = check
        return list(newest.values())


class ProbeCheck(AddedRow):
    """What a probe read in crushed ice and in boiling water, either of which may be missing."""

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="probe_checks", verbose_name=_("probe"))
    ice_reading_c = models.DecimalField(_("reading in crushed ice"), max_digits=5, decimal_places=1, null=True)
    boiling_reading_c = models.DecimalField(_("reading in boiling water"), max_digits=5, decimal_places=1, null=True)
    altitude_m = models.SmallIntegerField(
        _("metres above the sea"), validators=[MinValueValidator(LOWEST_M), MaxValueValidator(HIGHEST_M)]
    )
    pressure_hpa = models.DecimalField(
        _("air pressure"),
        max_digits=6,
        decimal_places=1,
        null=True,
        help_text="At the place itself, not reduced to the sea; it goes before the altitude.",
    )
    checked_on = models.DateField(_("day of the check"))
    note = models.TextField(_("note"), max_length=1000, blank=True)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects: ClassVar = ProbeCheckQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ice_reading_c__isnull=False) | Q(boiling_reading_c__isnull=False),
                name="probe_check_has_a_reading",
            )
        ]
        indexes = [models.Index(fields=["part", "-checked_on", "-id"], name="probe_check_newest_first")]

    def __str__(self) -> str:
        return f"{self.part}, {self.checked_on}"

    def as_rule(self, *, on: date) -> probes.ProbeCheck:
        """As the rules ask for it, on a day of use."""
        return probes.ProbeCheck(
            ice_reading_c=None if self.ice_reading_c is None else float(self.ice_reading_c),
            boiling_reading_c=None if self.boiling_reading_c is None else float(self.boiling_reading_c),
            altitude_m=float(self.altitude_m),
            pressure_hpa=None if self.pressure_hpa is None else float(self.pressure_hpa),
            age_days=max((on - self.checked_on).days, 0),
        )
