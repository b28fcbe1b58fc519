"""What somebody typed is kept where a form arrives but cannot be taken as it stands.

Two things come in the way of a form that was open for long: nobody is signed in any longer, or its token is of before
a new signing-in. The answer carries all that was typed, so that it can be sent again with one press.
"""

import json
from typing import Any, Final

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from kitshare.web.people.forms import SignInForm
from kitshare.web.phones import is_phone, signed_out, stale

FIELD: Final = "kept"
# A password is never sent back to a page. Whoever filled in one of these begins anew.
NEVER_KEPT: Final = {"people:sign_in", "people:own_password", "setup:first_run"}
# How the reasons begin that tell of a form on a page of somebody else: such a one is never offered to be sent again.
FROM_ELSEWHERE: Final = ("Origin", "Referer")

Typed = list[tuple[str, str]]


class SignedOut(LoginRequiredMiddleware):
    """A stranger is asked to sign in; one who sent a form gets it back afterwards."""

    def handle_no_permission(  # type: ignore[override]  # the type in Django knows only of the way to the door
        self, request: HttpRequest, view_func: Any
    ) -> HttpResponseBase:
        if is_phone(request):
            return signed_out(request)
        if typed := typed_in(request):
            shown = {"form": SignInForm(request), "next": request.get_full_path(), FIELD: json.dumps(typed)}
            return render(request, "people/sign_in.html", shown, status=403)
        return super().handle_no_permission(request, view_func)


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form whose token does not fit: to send it again if it came from a page of this site."""
    is_ours = "Origin" in request.headers and not reason.startswith(FROM_ELSEWHERE)
    if is_phone(request) and not reason.startswith(FROM_ELSEWHERE):
        return stale(request)
    if is_ours and (typed := typed_in(request)):
        photos = bool(request.FILES)
        return send_again(request, typed, address=request.get_full_path(), lost_photos=photos, status=403)
    if is_ours and _name(request) in NEVER_KEPT:
        typed, address = at_the_door(request)
        return send_again(request, typed, address=address) if typed else redirect(request.get_full_path())
    sentence = _("This form was open for too long, or came from somewhere else. Open its page again, and send it anew.")
    return render(request, "403.html", {"exception": sentence}, status=403)


def send_again(
    request: HttpRequest, typed: Typed, *, address: str, lost_photos: bool = False, status: int = 200
) -> HttpResponse:
    """A page with a form that nobody sees the fields of, and one button."""
    shown = {"typed": typed, "address": address, "lost_photos": lost_photos}
    return render(request, "people/send_again.html", shown, status=status)


def at_the_door(request: HttpRequest) -> tuple[Typed, str]:
    """What the page for signing in kept, and where it was on its way to."""
    address = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(address, {request.get_host()}, require_https=request.is_secure()):
        return [], ""
    return read_kept(request.POST.get(FIELD, "")), address


def typed_in(request: HttpRequest) -> Typed:
    """All that a form sent, in its order; nothing where there was no form, or one with passwords."""
    if request.method != "POST" or _name(request) in NEVER_KEPT:
        return []
    names = [name for name in request.POST if name != "csrfmiddlewaretoken"]
    return [(name, str(value)) for name in names for value in request.POST.getlist(name)]


def read_kept(text: str) -> Typed:
    """What a page kept, or nothing if it is not what our page wrote."""
    try:
        return [(str(name), str(value)) for name, value in json.loads(text)]
    except (ValueError, TypeError, RecursionError):
        return []


def _name(request: HttpRequest) -> str:
    return request.resolver_match.view_name if request.resolver_match else ""
