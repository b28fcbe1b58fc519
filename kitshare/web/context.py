"""What the frame around every page shows. It costs no query."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from kitshare.people.models import Member


def _places(member: Member, path: str) -> list[dict[str, Any]]:
    """The pages that a member's roles lead to, in the order in which they matter."""
    runs = member.coordinates or member.maintains
    offered = [
        (True, "home:home", _("Today")),
        (True, "season:month", _("Season")),
        (True, "bookings:list", _("Bookings")),
        (True, "kits:list", _("Kits")),
        (runs, "upkeep:workbench", _("Workbench")),
        (member.coordinates, "people:villages", _("Villages")),
        (member.coordinates, "people:members", _("Members")),
        (member.coordinates, "post:list", _("Post")),
        (runs, "logbook:list", _("Logbook")),
        (member.coordinates, "setup:scheme", _("Scheme")),
    ]
    places = []
    for open_to_them, name, word in offered:
        if open_to_them:
            address = reverse(name)
            here = path == address if name == "home:home" else path.startswith(address)
            places.append({"address": address, "word": word, "here": here})
    return places


def frame(request: HttpRequest) -> dict[str, Any]:
    """The scheme, the signed-in member and the way to the other pages.

    Each cell of a table that has a template of its own asks for it too, so the way is worked out where it is shown.
    """
    scheme = getattr(request, "our_scheme", None)
    user = getattr(request, "user", None)
    member = user if isinstance(user, Member) and scheme is not None else None
    return {
        "scheme": scheme,
        "member": member,
        "places": SimpleLazyObject(lambda: _places(member, request.path) if member else []),
        "mail_leaves": bool(settings.EMAIL_ADDRESS),
    }
