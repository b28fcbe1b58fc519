"""Bringing bookings in: send a file, look at what would become of each row, then all of it or nothing."""

from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitshare.bringing import actions as bringing
from kitshare.bringing.judging import IN_THE_WAY, Judgement
from kitshare.bringing.meaning import Standing
from kitshare.bringing.models import BroughtFile
from kitshare.bringing.refusals import BringingRefused
from kitshare.bringing.rows import MOST_BYTES
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.bookings.tables import BookingTable
from kitshare.web.bringing.forms import BringForm
from kitshare.web.bringing.tables import STANDINGS, VerdictTable
from kitshare.web.lists import on_pages
from kitshare.works import actions as works
from kitshare.works.models import Kind

LAST_FEW: Final = 10
# So many rows are brought in while the browser waits; more make a long work.
AT_ONCE: Final = 200


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def start(request: PageRequest) -> HttpResponse:
    """Send a file, or go on with one that was sent lately."""
    zone = request.our_scheme.zone
    form = BringForm(request.POST, request.FILES, zone=zone) if request.method == "POST" else BringForm(zone=zone)
    if request.method == "POST" and form.is_valid():
        facts = form.cleaned_data.pop("file")
        kept = bringing.keep(**facts, **form.cleaned_data, by=request.user, at=timezone.now())
        return redirect("bringing:look", key=kept.key)
    lately = BroughtFile.objects.of(request.user).defer("rows").order_by("-read_at", "key")[:LAST_FEW]
    return render(request, "bringing/start.html", {"form": form, "lately": lately}, status=422 if form.errors else 200)


# The browser's own words around the file are a few lines; what is larger is refused before it is read.
start.most_bytes = MOST_BYTES + 100_000  # type: ignore[attr-defined]


@for_coordinators
@require_safe
def look(request: PageRequest, key: Any) -> HttpResponse:
    """What would become of each row, judged by what is here now; afterwards, what was made."""
    brought = _fetch(request, key)
    return _made(request, brought) if brought.brought_at else _dry_run(request, brought)


@for_coordinators
@require_POST
def bring(request: PageRequest, key: Any) -> HttpResponse:
    """Make all the bookings of the file, or none of them."""
    brought = _fetch(request, key)
    was_brought = brought.brought_at
    if was_brought is None and len(brought.rows) > AT_ONCE:
        return _as_work(request, brought)
    try:
        brought = bringing.bring_in(brought=brought, by=request.user, at=timezone.now(), today=timezone.localdate())
    except BringingRefused as refusal:
        if brought.brought_at is None:
            return _dry_run(request, brought, refusal)
        messages.error(request, str(refusal))
    else:
        if was_brought is None:
            count = brought.bookings.count()
            sentence = ngettext("%(count)d booking was made.", "%(count)d bookings were made.", count)
            messages.success(request, sentence % {"count": count})
    return redirect("bringing:look", key=key)


def _as_work(request: PageRequest, brought: BroughtFile) -> HttpResponse:
    """So many rows take seconds: they are brought in beside the pages. Asked for twice, it is the same work."""
    title = _("Bring in bookings: %(name)s") % {"name": brought.name}
    work = works.ask(
        kind=Kind.BRING_IN,
        about=str(brought.pk),
        keys={"brought": str(brought.pk)},
        title=title,
        by=request.user,
        at=timezone.now(),
    )
    return redirect("works:show", key=work.key)


@for_coordinators
@require_POST
def take_back(request: PageRequest, key: Any) -> HttpResponse:
    """Take away what a file made, while nothing has happened to it."""
    try:
        bringing.take_back(brought=_fetch(request, key), by=request.user, at=timezone.now())
    except BringingRefused as refusal:
        messages.error(request, str(refusal))
    return redirect("bringing:look", key=key)


@for_coordinators
@require_POST
def throw_away(request: PageRequest, key: Any) -> HttpResponse:
    """Forget a file that was only looked at."""
    bringing.throw_away(brought=_fetch(request, key), by=request.user)
    messages.success(request, _("The file is forgotten. Nothing was made from it."))
    return redirect("bringing:start")


def _fetch(request: PageRequest, key: Any) -> BroughtFile:
    return get_object_or_404(BroughtFile.objects.of(request.user), key=key)


def _dry_run(request: PageRequest, brought: BroughtFile, refusal: BringingRefused | None = None) -> HttpResponse:
    judged = bringing.look(brought, scheme=request.our_scheme, today=timezone.localdate())
    wanted = request.GET.get("show", "")
    shown = [one for one in judged.verdicts if not wanted or one.standing == wanted]
    if wanted not in STANDINGS or not shown:
        wanted, shown = "", list(judged.verdicts)
    shown.sort(key=lambda one: one.standing not in IN_THE_WAY)  # and else in the order of the file
    table = VerdictTable(shown, judged=judged)
    on_pages(request, table)
    facts = {
        "brought": brought,
        "judged": judged,
        "table": table,
        "kinds": _kinds(judged, wanted),
        "to_make": judged.counts[Standing.MAKE],
        "refusal": refusal,
        "brought_before": _brought_before(brought),
    }
    return render(request, "bringing/look.html", facts, status=409 if refusal else 200)


def _brought_before(brought: BroughtFile) -> BroughtFile | None:
    """The same file, byte for byte, as it was brought in already."""
    same = BroughtFile.objects.filter(owner=brought.owner_id, digest=brought.digest, taken_back_at=None)
    return same.exclude(brought_at=None).defer("rows").order_by("-brought_at").first()


def _kinds(judged: Judgement, wanted: str) -> list[dict[str, Any]]:
    """The ways to narrow the list, those that hold a row."""
    kinds = [{"value": "", "word": _("all rows"), "count": len(judged.verdicts), "here": wanted == ""}]
    for standing, (word, _colour) in STANDINGS.items():
        if judged.counts[standing]:
            kinds.append(
                {"value": standing.value, "word": word, "count": judged.counts[standing], "here": wanted == standing}
            )
    return kinds


def _made(request: PageRequest, brought: BroughtFile) -> HttpResponse:
    table = BookingTable(brought.bookings.with_people())
    on_pages(request, table)
    return render(request, "bringing/made.html", {"brought": brought, "table": table})
