"""Plans and containers that cannot be, each with a sentence to show."""

from django.utils import dateformat
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking
from kitshare.pressdays.models import LEAST_YIELD, MOST_YIELD, ContainerKind, PressPlan


class PlanRefused(Exception):
    """A plan that cannot be. `field` names what to correct, if one thing is."""

    field: str | None = None


class NotTheirsToPlan(PlanRefused):
    """Somebody who neither signs for the village nor coordinates."""

    def __init__(self, booking: Booking) -> None:
        sentence = _(
            "The plan is changed by those who sign for %(village)s and by the coordinator. You can read it here."
        )
        super().__init__(sentence % {"village": booking.village})
        self.booking = booking


class NotAhead(PlanRefused):
    """The kit has left, or never will."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("This booking is %(stage)s, so its plan stays as it is.")
        super().__init__(sentence % {"stage": booking.get_stage_display()})
        self.booking = booking


class YieldNotBelieved(PlanRefused):
    """A yield that no fruit gives, or so little that pressing is not worth a plan."""

    field = "yield_expected"

    def __init__(self) -> None:
        sentence = _("A yield lies between %(least)s and %(most)s litres from a kilogram. Usual is 0.55.")
        super().__init__(sentence % {"least": f"{LEAST_YIELD:.2f}", "most": f"{MOST_YIELD:.2f}"})


class SharesNotAHundred(PlanRefused):
    """The shares come to less or more than a hundred."""

    def __init__(self, total: int) -> None:
        super().__init__(remainder_words(100 - total))
        self.total = total


class KindRetired(PlanRefused):
    """A kind of container that is no longer lent or advised, and was not in this plan."""

    def __init__(self, kind: ContainerKind) -> None:
        super().__init__(_("%(kind)s is no longer in use. Give its share to another kind.") % {"kind": kind})
        self.kind = kind


class PlanChangedMeanwhile(PlanRefused):
    """Somebody saved another plan since this one was opened. `plan` is theirs."""

    def __init__(self, plan: PressPlan, differences: str) -> None:
        sentence = _(
            "%(who)s saved another plan since you opened this page. Saved now: %(differences)s."
            " What you typed is still below; save once more to put it in place of theirs."
        )
        super().__init__(sentence % {"who": plan.changed_by.name, "differences": differences})
        self.plan = plan


class KindRefused(Exception):
    """A kind of container that cannot be. `field` names what to correct."""

    field = "name"


class KindNameTaken(KindRefused):
    """Another kind has this name, in whatever case."""

    def __init__(self, kind: ContainerKind) -> None:
        if kind.retired_on:
            sentence = _("%(name)s is a kind that was retired on %(day)s. Bring it back instead.")
        else:
            sentence = _("There is a kind called %(name)s already.")
        day = dateformat.format(kind.retired_on, "D j M Y") if kind.retired_on else ""
        super().__init__(sentence % {"name": kind.name, "day": day})
        self.kind = kind


def remainder_words(remainder: int) -> str:
    """How far a mix is from a hundred: "15 more parts in a hundred to share out"."""
    if remainder > 0:
        words = ngettext(
            "%(count)s more part in a hundred to share out.",
            "%(count)s more parts in a hundred to share out.",
            remainder,
        )
        return words % {"count": remainder}
    if remainder < 0:
        words = ngettext(
            "%(count)s part in a hundred too many: take some away.",
            "%(count)s parts in a hundred too many: take some away.",
            -remainder,
        )
        return words % {"count": -remainder}
    return _("All of the juice is shared out.")
