"""The service worker, the manifest, the page for a place without signal, and the token with which a phone sends."""

import json
from typing import Final

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from kitshare.people.models import Member
from kitshare.web.phone.files import own_files, version

# From the palette in base.css: the ground of a page, and the posts of the stack.
GROUND: Final = "#F5F8EC"
POST: Final = "#4A2F1B"
WORKER: Final = "kitshare/phone/worker.js"


@login_not_required
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps checks on a phone. It stands at the root, since it answers for every page."""
    files = own_files()
    told = {
        "version": version(getattr(request, "our_scheme", None)),
        "files": files.addresses,
        "static": settings.STATIC_URL,
        "offline": reverse("phone:offline"),
        "token": reverse("phone:token"),
        "signOut": reverse("people:sign_out"),
    }
    lines = [f"import {{ begin }} from {json.dumps(static(WORKER))};", f"begin({json.dumps(told)});"]
    answer = HttpResponse("\n".join(lines), content_type="text/javascript")
    answer["Cache-Control"] = "no-cache"
    answer["Service-Worker-Allowed"] = "/"
    return answer


@login_not_required
@require_safe
def manifest(request: HttpRequest) -> JsonResponse:
    """What a phone needs to put the site among its programs."""
    scheme = getattr(request, "our_scheme", None)
    name = scheme.name if scheme else "Kitshare"
    icons = [("192", "any"), ("512", "any"), ("192", "maskable"), ("512", "maskable")]
    whole = {
        "id": "/",
        "name": name,
        "short_name": name if len(name) <= 12 else "Kitshare",
        "lang": get_language(),
        "start_url": reverse("home:home"),
        "scope": "/",
        "display": "standalone",
        "background_color": GROUND,
        "theme_color": POST,
        "icons": [
            {
                "src": static(f"kitshare/icons/{purpose}-{size}.png"),
                "sizes": f"{size}x{size}",
                "type": "image/png",
                "purpose": purpose,
            }
            for size, purpose in icons
        ],
    }
    answer = JsonResponse(whole, content_type="application/manifest+json")
    answer["Cache-Control"] = "no-cache"
    return answer


@login_not_required
@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    """What a phone shows in place of a page that it does not keep. It names nobody who is signed in."""
    return render(request, "phone/offline.html")


@login_not_required
@require_safe
@never_cache
def token(request: HttpRequest) -> JsonResponse:
    """Who is signed in now, and a fresh token to send with: the one in a page that a phone kept may be old."""
    member = request.user.pk if isinstance(request.user, Member) else None
    return JsonResponse({"token": get_token(request), "member": member})
