"""What a row of each kind may say: when, to whom, and the words for it."""

from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from kitshare.reminders.models import MOST_DAYS, MOST_HOURS, Addressed, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """Of one kind: the day that it goes by, between which days around it, and to whom it may go.

    Without a `day` it goes as soon as the thing is known. `hours` are the most before a moment. What says of a thing
    that it is over too goes by one row, so that whoever heard of it hears that.
    """

    about: str | Promise
    to: tuple[Addressed, ...]
    day: str | Promise = ""
    least: int = 0
    most: int = 0
    hours: int = 0
    only_one: bool = False

    @property
    def goes_by_days(self) -> bool:
        return bool(self.day)

    @property
    def goes_by_hours(self) -> bool:
        return self.hours > 0

    @property
    def goes_at_once(self) -> bool:
        return not self.goes_by_days and not self.goes_by_hours

    @property
    def may_be_several(self) -> bool:
        """Whether a scheme may remind of it more than once."""
        return self.goes_by_days and not self.only_one


BORROWING: Final = (Addressed.BORROWER, Addressed.BOTH, Addressed.COORDINATORS)
MENDING: Final = (Addressed.MAINTAINERS, Addressed.COORDINATORS)
ALL: Final = (Addressed.BORROWERS, Addressed.COORDINATORS, Addressed.MAINTAINERS, Addressed.EVERYBODY)
PICKUP: Final = _("pickup")
TERMS: Final[dict[str, Terms]] = {
    Kind.BRIEFING: Terms(
        about=_("To whoever signs for an agreed booking and has not confirmed the briefing of its season."),
        to=BORROWING,
        day=PICKUP,
        least=-60,
    ),
    Kind.PICKUP: Terms(
        about=_("When the kit of an agreed booking goes out, where from, and what to bring."),
        to=BORROWING,
        day=PICKUP,
        least=-30,
    ),
    Kind.BRING: Terms(
        about=_("The same, with the containers that the plan of the press day asks for, and the other things for it."),
        to=BORROWING,
        day=PICKUP,
        least=-30,
    ),
    Kind.RELAY: Terms(
        about=_("To both villages, where one hands the kit straight to the next."),
        to=BORROWING,
        day=_("relay"),
        least=-30,
    ),
    Kind.RETURN: Terms(
        about=_("When and where the kit is due back, while it is out."), to=BORROWING, day=_("return"), least=-14
    ),
    Kind.OVERDUE: Terms(
        about=_("While the kit is still out after its day. Of several steps only the latest that is due is told."),
        to=BORROWING,
        day=_("the day of return"),
        least=1,
        most=60,
    ),
    Kind.CLEAN_DOWN: Terms(
        about=_(
            "To the village that handed the kit on before it was cleaned down, as its relay check says; until its"
            " booking is closed. A return check does not ask for it."
        ),
        to=BORROWING,
        day=_("the relay"),
        most=30,
    ),
    Kind.OFFER: Terms(
        about=_("To whoever was offered freed days and has not answered. Of a short offer, when a quarter is left."),
        to=(Addressed.BORROWER,),
        hours=MOST_HOURS,
    ),
    Kind.FAULT: Terms(
        about=_("When a machine of a booking to come is set aside; and once more when nothing stops it any longer."),
        to=(Addressed.BOTH,),
    ),
    Kind.TEST_FIRST: Terms(
        about=_("When a safety test falls due before a machine goes out; and once more when it is done."),
        to=(Addressed.BOTH,),
        day=PICKUP,
        least=-60,
        most=-1,
        only_one=True,
    ),
    Kind.LATE_KIT: Terms(
        about=_("When another village has not brought the kit back, three days before it is needed; and when it is."),
        to=(Addressed.BORROWER,),
    ),
    Kind.SERVICE: Terms(
        about=_("Routine care of a machine that goes by the calendar. Of several steps only the latest that is due."),
        to=MENDING,
        day=_("the due day"),
        least=-MOST_DAYS,
        most=60,
    ),
    Kind.BY_USE: Terms(
        about=_("Routine care that goes by kilograms, hours or outings, once so much was done."), to=MENDING
    ),
    Kind.TEST: Terms(
        about=_("A safety test that is due. Of several steps only the latest that is due is told."),
        to=MENDING,
        day=_("the due day"),
        least=-MOST_DAYS,
        most=60,
    ),
    Kind.SEASON_OPENS: Terms(
        about=_("When kits can be booked again, and what to read before."),
        to=ALL,
        day=_("the season's first day"),
        least=-60,
        most=7,
    ),
    Kind.SEASON_CLOSES: Terms(
        about=_("Until when a kit may be out."), to=ALL, day=_("the season's last day"), least=-60, most=7
    ),
    Kind.LAY_UP: Terms(
        about=_("What is on the lists of the season's end and not ticked off yet; nothing where all is."),
        to=MENDING,
        day=_("the season's last day"),
        least=-30,
        most=60,
    ),
}
