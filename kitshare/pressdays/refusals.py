"""Plans and containers that cannot be, each with a sentence to show."""

from collections.abc import Sequence

from django.utils import dateformat
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Booking
from kitshare.pressdays.models import (
    LEAST_YIELD,
    MOST_AT_HAND,
    MOST_SORTED_OUT,
    MOST_YIELD,
    ContainerKind,
    PressPlan,
    UseChoice,
)
from kitshare.pressdays.wanted import Part
from kitshare.pressdays.words import container_refusal
from kitshare.rules.containers import Refusal


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


class OfAPart(PlanRefused):
    """A kind of container that may not take the part of the juice that is meant for it."""

    kind: ContainerKind


class KindRetired(OfAPart):
    """A kind of container that is no longer lent or advised, and was not in this plan."""

    def __init__(self, kind: ContainerKind) -> None:
        super().__init__(_("%(kind)s is no longer in use. Give its share to another kind.") % {"kind": kind})
        self.kind = kind


class KindTwice(OfAPart):
    """The same kind for the same use on two lines."""

    def __init__(self, kind: ContainerKind) -> None:
        super().__init__(_("%(kind)s stands here twice for one use. Put both shares on one line.") % {"kind": kind})
        self.kind = kind


class KindMayNotHold(OfAPart):
    """A kind of container that the juice would spoil, or that the heat or the frost would."""

    def __init__(self, part: Part, reasons: Sequence[Refusal]) -> None:
        super().__init__(may_not_hold(part, reasons))
        self.kind, self.use = part.kind, part.use


def may_not_hold(part: Part, reasons: Sequence[Refusal]) -> str:
    """Why a kind may not hold a part of the juice, in a sentence."""
    words = {"kind": part.kind, "use": UseChoice(part.use).label, "why": "; ".join(map(container_refusal, reasons))}
    return _("%(kind)s may not hold juice that is %(use)s: %(why)s.") % words


class SortingNotSensible(PlanRefused):
    """More sorted out than a village would carry home."""

    field = "sorted_out_percent"

    def __init__(self) -> None:
        super().__init__(_("From 0 to %(most)s in a hundred are sorted out.") % {"most": MOST_SORTED_OUT})


class TooManyAtHand(PlanRefused):
    """Fewer than none, or more containers than a village has."""

    def __init__(self) -> None:
        super().__init__(_("A number at hand is 0 to %(most)s.") % {"most": MOST_AT_HAND})


class FruitChangedMeanwhile(PlanRefused):
    """Somebody said another amount of fruit since the page was opened."""

    field = "fruit_amount"

    def __init__(self, booking: Booking) -> None:
        sentence = _(
            "Since you opened this page the booking was changed to %(amount)s %(unit)s."
            " Save once more to put yours in its place."
        )
        words = {"amount": f"{booking.fruit_amount.normalize():f}", "unit": booking.get_fruit_unit_display()}
        super().__init__(sentence % words)
        self.booking = booking


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


class OnlyGlassIsReused(KindRefused):
    """The allowance for breakage is for re-used glass."""

    field = "reused_glass"

    def __init__(self) -> None:
        super().__init__(_("Only glass is counted as re-used glass: change what the juice touches, or untick this."))


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
