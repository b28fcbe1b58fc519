"""Why something cannot be done with the shelf: each with a sentence fit to show."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.kits.models import Part
from kitshare.upkeep.shelf_models import MOST, ShelfMovement, ShelfPlace


class ShelfRefused(Exception):
    """Something on the shelf cannot be done. `field` names what to correct, if anything typed is at fault."""

    field: str | None = None


class NotTheirs(ShelfRefused):
    """The deed belongs to somebody else's role."""

    def __init__(self) -> None:
        super().__init__(_("This is for maintenance volunteers and the coordinator. Telephone the coordinator."))


class TooFewOnShelf(ShelfRefused):
    """More are asked for than lie there."""

    field = "count"

    def __init__(self, *, place: ShelfPlace, there: int) -> None:
        words = {"there": there, "name": place.thing.name, "depot": place.depot.name}
        if not there:
            text = _("By the count none of %(name)s is on the shelf at %(depot)s. If some are, count them first.")
        else:
            text = ngettext(
                "Only %(there)d of %(name)s is on the shelf at %(depot)s. If there are more, count them first.",
                "Only %(there)d of %(name)s are on the shelf at %(depot)s. If there are more, count them first.",
                there,
            )
        super().__init__(text % words)
        self.place = place


class TooManyOnShelf(ShelfRefused):
    """More than a shelf holds: most likely a slip of the finger."""

    field = "count"

    def __init__(self) -> None:
        super().__init__(_("More than %(most)d of one thing cannot be counted. Look at the number.") % {"most": MOST})


class NoneMoved(ShelfRefused):
    """Nothing comes or goes."""

    field = "count"

    def __init__(self) -> None:
        super().__init__(_("Give a number from 1 up."))


class SameDepot(ShelfRefused):
    """From a depot to the same one."""

    field = "to"

    def __init__(self) -> None:
        super().__init__(_("It is there already. Choose the other depot."))


class NotOnShelves(ShelfRefused):
    """The thing is retired: nothing of it comes or goes."""

    def __init__(self, *, name: str) -> None:
        super().__init__(_("%(name)s is retired. Bring it back into use first.") % {"name": name})


class NameOnShelfTaken(ShelfRefused):
    """Something in use is called so already."""

    field = "name"

    def __init__(self, *, name: str) -> None:
        text = _("Something on the shelf is called “%(name)s” already. Say in the name how this one differs.")
        super().__init__(text % {"name": name})


class SparesCountedAlready(ShelfRefused):
    """The spares of this part are kept under another name."""

    field = "part"

    def __init__(self, *, part: Part) -> None:
        words = {"name": part.name, "machine": part.machine.name}
        super().__init__(_("Spares for %(name)s of %(machine)s are on the shelf already: count them there.") % words)


class PartNamedWrongly(ShelfRefused):
    """A spare without its part, or a consumable with one."""

    field = "part"

    def __init__(self, *, is_spare: bool) -> None:
        if is_spare:
            super().__init__(_("Choose the part that it replaces."))
        else:
            super().__init__(_("Only a spare belongs to a part. Choose none, or choose that it is a spare."))


class StillOnShelf(ShelfRefused):
    """It cannot be retired while some of it lies there."""

    def __init__(self, *, places: Sequence[ShelfPlace]) -> None:
        where = ", ".join(f"{place.count} ({place.depot.name})" for place in places)  # type: ignore[attr-defined]
        text = _("Some of it is on the shelf: %(where)s. Write down first where that went.")
        super().__init__(text % {"where": where})


class ShelfChangedMeanwhile(ShelfRefused):
    """Somebody put in or took out after the form was opened, so that the count may be of before or after."""

    field = "count"

    def __init__(self, *, movements: Sequence[ShelfMovement]) -> None:
        said = "; ".join(
            _("%(who)s: %(change)s, %(reason)s")
            % {
                "who": movement.by.name if movement.by else "Kitshare",
                "change": movement.signed_change,
                "reason": movement.get_reason_display(),
            }
            for movement in movements
        )
        text = _("Since you opened this: %(said)s. Count once more, and send it again.")
        super().__init__(text % {"said": said})
