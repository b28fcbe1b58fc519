"""Who may open which page. A stranger is sent to sign in; a wrong role is refused with a sentence."""

import functools
from collections.abc import Callable
from typing import Concatenate, ParamSpec

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy as _
from django_htmx.middleware import HtmxDetails

from kitshare.people.models import Member, Scheme

P = ParamSpec("P")


class PageRequest(HttpRequest):
    """A request as pages see it: somebody is signed in, and there is a scheme."""

    user: Member
    htmx: HtmxDetails  # true where a part of a page asks for itself
    our_scheme: Scheme  # not `scheme`: to Django that is the "https" of the address


View = Callable[Concatenate[PageRequest, P], HttpResponse]


def _only(allowed: Callable[[Member], bool], sentence: str) -> Callable[[View[P]], View[P]]:
    def guard(view: View[P]) -> View[P]:
        @functools.wraps(view)
        def guarded(request: PageRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if not allowed(request.user):
                raise PermissionDenied(sentence)
            return view(request, *args, **kwargs)

        return guarded  # type: ignore[return-value]

    return guard


def for_coordinators(view: View[P]) -> View[P]:
    """Only for those who run the calendar."""
    sentence = _("This page is for the coordinator. Telephone the coordinator if you need something from it.")
    return _only(lambda member: member.coordinates, sentence)(view)  # type: ignore[arg-type]


def for_maintainers(view: View[P]) -> View[P]:
    """For maintenance volunteers, and for the coordinator, who must see what they see."""
    sentence = _("This page is for maintenance volunteers and the coordinator.")
    return _only(lambda member: member.maintains or member.coordinates, sentence)(view)  # type: ignore[arg-type]


def for_members_who_run_things(view: View[P]) -> View[P]:
    """For the coordinator and the maintenance volunteers: those who see every village's bookings."""
    sentence = _("This page is for the people who run the scheme. Your own bookings are under Bookings.")
    return _only(lambda member: member.maintains or member.coordinates, sentence)(view)  # type: ignore[arg-type]
