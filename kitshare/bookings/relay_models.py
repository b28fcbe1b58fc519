"""Where each machine is while it is away from the depot, and who hands it straight on to whom."""

from collections.abc import Iterable
from datetime import date
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.people.models import Member


class MachineOutQuerySet(models.QuerySet["MachineOut"]):
    def still_out(self) -> "MachineOutQuerySet":
        """Machines that some village has now."""
        return self.filter(back_at=None)


class MachineOut(models.Model):
    """One machine with one village, from the moment it was handed over until it is back or handed on.

    The booking's stage says how far its village has come; this says where the machine is. They differ when only some
    of a booking's machines are part of a relay.
    """

    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="outs")
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="outs")
    out_at = models.DateTimeField()
    back_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar = MachineOutQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["machine"], condition=Q(back_at=None), name="machine_with_one_village_at_a_time"
            ),
            models.UniqueConstraint(fields=["booking", "machine"], name="machine_goes_out_once_a_booking"),
        ]

    def __str__(self) -> str:
        return f"{self.machine_id} with {self.booking_id}"


class RelayQuerySet(models.QuerySet["Relay"]):
    def arranged(self) -> "RelayQuerySet":
        """Relays still to come: neither done nor ended."""
        return self.filter(done_at=None, ended_at=None)

    def of(self, booking: Booking) -> "RelayQuerySet":
        """Relays in which a booking gives or takes."""
        return self.filter(Q(giver=booking) | Q(taker=booking))

    def visible_to(self, member: Member) -> "RelayQuerySet":
        """For those who run the scheme, and for both villages."""
        mine = Booking.objects.visible_to(member)
        return self.filter(Q(giver__in=mine) | Q(taker__in=mine))

    def with_people(self) -> "RelayQuerySet":
        """Each with both villages, both borrowers, and its machines in packing order."""
        machines = Machine.objects.select_related("kit").order_by("kit__name", "kit_id", "position", "pk")
        both = ("giver__village", "giver__borrower", "taker__village", "taker__borrower")
        return self.select_related(*both).prefetch_related(models.Prefetch("machines", machines))


class Relay(models.Model):
    """One village hands machines straight on to the next, on the day on which one is due back and the other begins."""

    giver = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="relays_given")
    taker = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="relays_taken")
    machines = models.ManyToManyField(Machine, related_name="relays", verbose_name=_("machines"))
    carrier = models.CharField(_("who carries it"), max_length=120)
    place = models.CharField(_("where they meet"), max_length=200)
    meet_at = models.TimeField(_("when they meet"))
    arranged_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="When it was given up before it was done.")
    reason = models.CharField(max_length=500, blank=True, help_text="Why it was given up.")

    objects: ClassVar = RelayQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["giver"], condition=Q(ended_at=None), name="booking_hands_on_once"),
            models.UniqueConstraint(fields=["taker"], condition=Q(ended_at=None), name="booking_takes_over_once"),
            models.CheckConstraint(condition=~Q(giver=F("taker")), name="relay_has_two_bookings"),
            models.CheckConstraint(
                condition=Q(done_at=None) | Q(ended_at=None), name="relay_is_done_or_given_up_not_both"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.giver.village} to {self.taker.village}"

    @property
    def is_arranged(self) -> bool:
        return self.done_at is None and self.ended_at is None

    @property
    def day(self) -> date:
        """The day on which the machines change hands."""
        return self.taker.out_on

    def fits(self, *, machines: Iterable[Machine]) -> bool:
        """Whether the two bookings, as they stand, still meet on one day, both holding what should change hands."""
        held = {machine.pk for machine in machines}
        meet = self.giver.back_on == self.taker.out_on
        return meet and all(machine.pk in held for machine in self.machines.all())
