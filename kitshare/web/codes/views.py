"""Codes on kits, machines and boxes: typed, scanned, and printed."""

from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitshare.kits import coding
from kitshare.people.models import Member
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.codes.facts import card_of, ways
from kitshare.web.codes.forms import CodeForm, LabelsForm
from kitshare.web.codes.labels import KitLabels, labels_by_kit

NO_PHONE_REACHES = {"127.0.0.1", "localhost", "::1"}


@login_not_required
@require_safe
def enter(request: HttpRequest) -> HttpResponse:
    """Type a code where a camera cannot read it."""
    form = CodeForm(request.GET if "code" in request.GET else None)
    if form.is_valid():
        return redirect("codes:card", form.cleaned_data["code"].text)
    return render(request, "codes/enter.html", {"form": form}, status=422 if form.errors else 200)


@login_not_required
@require_safe
def card(request: HttpRequest, text: str) -> HttpResponse:
    """Where a scanned code leads: a member to the check that is due, everybody else to the public card."""
    form = CodeForm({"code": text})
    if not form.is_valid():
        return render(request, "codes/enter.html", {"form": form}, status=404)
    code = form.cleaned_data["code"]
    if code.text != text:
        return redirect("codes:card", code.text)
    shown = card_of(code)
    member = request.user if isinstance(request.user, Member) else None
    found = ways(shown, member, timezone.localdate()) if member else []
    if len(found) == 1 and "card" not in request.GET:
        return redirect(found[0].address)
    answer = render(request, "codes/card.html", {"card": shown, "ways": found, "signed_in": member is not None})
    answer["Cache-Control"] = "no-store"  # where it leads depends on who asks, and when
    return answer


@for_maintainers
@require_safe
def labels(request: PageRequest) -> HttpResponse:
    """Choose which labels to print."""
    return _labels_page(request, labels_by_kit(), None)


@for_maintainers
@require_POST
def make(request: PageRequest) -> HttpResponse:
    """Make the codes that are missing, as for things that were there before codes were."""
    count = coding.make_codes(by=request.user, at=timezone.now())
    messages.success(request, _("Codes made: %(count)d.") % {"count": count})
    return redirect("codes:labels")


@for_maintainers
@require_safe
def sheet(request: PageRequest) -> HttpResponse:
    """The labels that were chosen, several on a page of A4 or Letter."""
    kits = labels_by_kit()
    form = LabelsForm(request.GET, known=[label.code for kit in kits for label in kit.labels])
    if not form.is_valid():
        return _labels_page(request, kits, form)
    chosen = set(form.cleaned_data["code"])
    printed = [label for kit in kits for label in kit.labels if label.code.text in chosen]
    return render(request, "codes/sheet.html", {"labels": printed, "paper": form.chosen_paper, "site": _site()})


def _labels_page(request: PageRequest, kits: list[KitLabels], form: LabelsForm | None) -> HttpResponse:
    context = {
        "kits": kits,
        "form": form,
        "chosen": request.GET.getlist("code") if form else None,
        "missing": len(coding.unmarked()),
        "site": _site(),
        "is_out_of_reach": urlsplit(settings.SITE_ADDRESS).hostname in NO_PHONE_REACHES,
    }
    return render(request, "codes/labels.html", context, status=422 if form else 200)


def _site() -> str:
    """The site's address as people type it."""
    place = urlsplit(settings.SITE_ADDRESS)
    return f"{place.netloc}{place.path.rstrip('/')}"
