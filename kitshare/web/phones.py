"""How the site answers our own script on a phone: as data, and in words that it can show."""

from typing import Final

from django.http import HttpRequest, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.web.access import PageRequest

FROM_A_PHONE: Final = "X-Kitshare-Phone"
SENT_BY: Final = "X-Kitshare-Member"


def is_phone(request: HttpRequest) -> bool:
    """Whether a script of ours on a phone asks. A page from elsewhere cannot send such a header unasked."""
    return FROM_A_PHONE in request.headers


def signed_out(request: HttpRequest) -> JsonResponse:
    sentence = _("Nobody is signed in. It stays on this phone, and is sent after you sign in.")
    address = f"{reverse('people:sign_in')}?next={request.path}"
    return JsonResponse({"error": sentence, "sign_in": address}, status=401)


def stale(request: HttpRequest) -> JsonResponse:
    """Its page was kept for longer than its token holds: here is a new one."""
    sentence = _("This page was kept for long. It is sent again by itself.")
    return JsonResponse({"error": sentence, "token": get_token(request)}, status=403)


def wrong_member(request: PageRequest) -> JsonResponse | None:
    """The answer where somebody else is signed in than the one whose phone kept it; None where it is the same."""
    sent_by = request.headers.get(SENT_BY, "")
    if not is_phone(request) or sent_by in {"", str(request.user.pk)}:
        return None
    sentence = _("%(who)s is signed in on this phone. What another member kept is sent when that member signs in.")
    return JsonResponse({"error": sentence % {"who": request.user.name}, "wrong_member": True}, status=409)


def not_theirs() -> JsonResponse:
    """The same whether the booking is another village's or nobody's."""
    return JsonResponse({"error": _("This booking is not yours, or there is none such.")}, status=403)


def too_much(most_bytes: int) -> JsonResponse:
    sentence = _("This is too much at once: %(most)d MB are taken.") % {"most": most_bytes // 1_000_000}
    return JsonResponse({"error": sentence, "final": True}, status=413)


def later(sentence: str) -> JsonResponse:
    """Not now: the phone keeps it and sends it again by itself."""
    return JsonResponse({"error": sentence}, status=503)
