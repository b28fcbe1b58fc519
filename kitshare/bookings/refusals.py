"""Why a booking cannot be: each with a sentence fit to show a village, and what to do about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking, ClosedSpell, DayKind, Season, Stage
from kitshare.bookings.words import day_in_words, days_in_words, from_day_to_day, machines_in_words
from kitshare.kits.models import Machine, Part
from kitshare.people.models import Village
from kitshare.rules.periods import Period
from kitshare.upkeep.fitness import Reason


class BookingRefused(Exception):
    """Something about a booking cannot be done. `field` names what to correct, if anything typed is at fault."""

    field: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """Machines that somebody has on some of the days wanted, and as what: booked, cleaned or closed."""

    machines: tuple[Machine, ...]
    kind: DayKind
    booking: Booking | None
    spell: ClosedSpell | None
    first_day: date
    last_day: date
    part: Part | None = None  # not the machines themselves are wanted, but a part that goes with them

    def __str__(self) -> str:
        words = {"machines": machines_in_words(self.machines), "last": day_in_words(self.last_day)}
        if self.spell is not None:
            words["days"] = from_day_to_day(self.spell.first_day, self.spell.last_day)
            words["reason"] = self.spell.reason
            return _("%(machines)s: closed %(days)s: %(reason)s.") % words
        assert self.booking is not None  # noqa: S101
        words |= {"village": self.booking.village.name, "days": days_in_words(self.booking.period)}
        if self.part is not None:
            sentence = _("%(part)s goes with %(machines)s, and is with %(village)s from %(days)s.")
            return sentence % (words | {"part": self.part.name})
        if self.kind == DayKind.CARE:
            return _("%(machines)s: cleaning and drying after %(village)s, until %(last)s.") % words
        if self.booking.stage == Stage.WAITING:
            return _("%(machines)s: offered to %(village)s from the waiting list, %(days)s.") % words
        return _("%(machines)s: with %(village)s from %(days)s.") % words


class MachineTaken(BookingRefused):
    """Somebody has a machine on some of the days. Says who, and the nearest days on which all of them are free."""

    field = "days"

    def __init__(self, *, taken: Sequence[Holding], nearest: Sequence[Period]) -> None:
        is_only_closed = bool(taken) and all(holding.kind == DayKind.CLOSED for holding in taken)
        first = _("Nothing goes out on these days.") if is_only_closed else _("Somebody has these days already.")
        sentences = [first, *(str(holding) for holding in taken)]
        if nearest:
            spells = "; ".join(days_in_words(spell) for spell in nearest)
            sentences.append(_("The nearest free days: %(spells)s.") % {"spells": spells})
        else:
            sentences.append(_("No other days of this season fit. Ask for fewer days or fewer machines."))
        super().__init__(" ".join(sentences))
        self.taken = list(taken)
        self.nearest = list(nearest)


class KitUnfit(BookingRefused):
    """A machine is set aside: a fault stops its use, or a safety test is overdue on the day it should go out."""

    field = "machines"

    def __init__(self, *, reasons: Sequence[Reason]) -> None:
        self.faults = [reason.fault for reason in reasons if reason.fault is not None]
        self.overdue = [reason.plan for reason in reasons if reason.plan is not None]
        sentences = [str(reason) for reason in reasons if reason.plan is not None]
        if self.faults:
            names = machines_in_words({fault.machine.pk: fault.machine for fault in self.faults}.values())
            notes = "; ".join(fault.note for fault in self.faults)
            sentence = _(
                "Set aside until it is mended and released: %(machines)s (%(notes)s). Choose other machines, or wait."
            )
            sentences.insert(0, sentence % {"machines": names, "notes": notes})
        super().__init__(" ".join(sentences))


class MachineRetired(BookingRefused):
    """A machine is no longer lent."""

    field = "machines"

    def __init__(self, *, machines: Sequence[Machine]) -> None:
        names = machines_in_words(machines)
        super().__init__(_("No longer lent: %(machines)s. Choose other machines.") % {"machines": names})
        self.machines = list(machines)


class NoMachine(BookingRefused):
    """Nothing was asked for."""

    field = "machines"

    def __init__(self) -> None:
        super().__init__(_("Choose at least one machine."))


class MachineStillOut(BookingRefused):
    """A machine has not come back from another village yet."""

    def __init__(self, *, booking: Booking, machines: Sequence[Machine]) -> None:
        words = {"machines": machines_in_words(machines), "village": booking.village.name}
        super().__init__(_("Not back from %(village)s yet: %(machines)s. Do the return check first.") % words)
        self.booking = booking
        self.machines = list(machines)


class GoesByRelay(BookingRefused):
    """The machines come straight from another village: the relay check hands them over."""

    def __init__(self) -> None:
        super().__init__(_("A relay is arranged: the villages hand over together, by the relay check."))


class OutsideSeason(BookingRefused):
    """Some of the days lie outside the season."""

    field = "days"

    def __init__(self, *, season: Season | None) -> None:
        if season is None:
            message = _("There is no season yet. Telephone the coordinator.")
        else:
            words = {
                "season": season.name,
                "first": day_in_words(season.opens_on),
                "last": day_in_words(season.closes_on),
            }
            message = _("Outside the season. %(season)s runs from %(first)s to %(last)s.") % words
        super().__init__(message)
        self.season = season


class DayIsPast(BookingRefused):
    """The first day is over already."""

    field = "days"

    def __init__(self, *, day: date) -> None:
        sentence = _("%(day)s is past. Choose today or a later day.")
        super().__init__(sentence % {"day": day_in_words(day)})
        self.day = day


class TooLong(BookingRefused):
    """More days than one village may have in one go."""

    field = "days"

    def __init__(self, *, length: int, longest: int) -> None:
        words = {"longest": longest, "length": length}
        sentence = ngettext(
            "A booking lasts %(longest)d day at most; this one has %(length)d.",
            "A booking lasts %(longest)d days at most; this one has %(length)d.",
            longest,
        )
        super().__init__(sentence % words)
        self.length = length
        self.longest = longest


class FruitNotSensible(BookingRefused):
    """No fruit, or more than any village brings."""

    field = "fruit_amount"

    def __init__(self) -> None:
        super().__init__(_("Give the fruit as a number above 0, at most 20,000 kilograms in all."))


class WeightNotSaid(FruitNotSensible):
    """Fruit in bushels, where the scheme has not said what one weighs."""

    field = "fruit_unit"

    def __init__(self) -> None:
        BookingRefused.__init__(
            self, _("This scheme has not said what a bushel weighs. Give the fruit in kilograms, crates or sacks.")
        )


class ReasonMissing(BookingRefused):
    """Nobody is turned down without being told why."""

    field = "reason"

    def __init__(self) -> None:
        super().__init__(_("Say why: the village reads it."))


class DoesNotSign(BookingRefused):
    """The borrower named does not sign for that village."""

    field = "for_whom"

    def __init__(self, *, village: Village) -> None:
        super().__init__(_("Choose a borrower who signs for %(village)s.") % {"village": village.name})
        self.village = village


class VillageHasLeft(BookingRefused):
    """The village no longer borrows."""

    field = "for_whom"

    def __init__(self, *, village: Village) -> None:
        sentence = _("%(village)s has left the scheme. Telephone the coordinator.")
        super().__init__(sentence % {"village": village.name})
        self.village = village


class NotTheirs(BookingRefused):
    """The deed belongs to somebody else's role."""

    def __init__(self) -> None:
        super().__init__(_("This is not yours to do. Telephone the coordinator."))


class NotAtThisStage(BookingRefused):
    """The booking has not come so far yet, or is past it."""

    def __init__(self, *, booking: Booking) -> None:
        sentence = _("The booking is %(stage)s: this cannot be done to it now.")
        super().__init__(sentence % {"stage": booking.get_stage_display()})
        self.booking = booking


class ChangedMeanwhile(BookingRefused):
    """Somebody changed the booking after this page was opened. `changes` says what, a sentence each, oldest first."""

    def __init__(self, *, changes: Sequence[str], revision: int) -> None:
        sentences = [_("This booking was changed after you opened it."), *changes]
        super().__init__(" ".join(sentences))
        self.changes = list(changes)
        self.revision = revision
