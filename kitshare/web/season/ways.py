"""The ways from one view of the season to the others. Each keeps the filters."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.web.season.filters import Filters


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    address: str
    word: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """`views` lead to the other views, `filters` to the choice of what is shown, `all` to all of it.

    `shift` leads to shifting the bookings of the machine that is shown, or of one to be chosen.
    """

    views: list[Way]
    filters: str
    all: str
    shift: str


def ways_from(here: str, filters: Filters, **when: str) -> Ways:
    """From one of the views, such as "month", at some time, such as `month="2027-09"`."""
    names = {"month": _("Month"), "day": _("Day"), "whole": _("Whole season")}
    views = [
        Way(
            address=filters.address(reverse(f"season:{name}"), **(when if name == here else {})),
            word=word,
            here=name == here,
        )
        for name, word in names.items()
    ]
    return Ways(
        views=views,
        filters=filters.address(reverse("season:filters"), back=here, **when),
        all=Filters().address(reverse(f"season:{here}"), **when),
        shift=Filters(machine=filters.machine).address(reverse("season:shift")),
    )
