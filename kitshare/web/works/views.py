"""Long works: a page that says how far one is, and afterwards what became of it."""

from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from kitshare.bringing.models import BroughtFile
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.works.rehearsed import rehearsed
from kitshare.works import actions as works
from kitshare.works.models import LEASE, TRIES, Kind, State, Work, WorkFile

MOST_SHOWN: Final = 100
COLOURS: Final = {
    State.ASKED: "plum",
    State.RUNNING: "plum",
    State.DONE: "done",
    State.FAILED: "stop",
    State.CANCELLED: "quiet",
}


@require_safe
@for_coordinators
def work_list(request: PageRequest) -> HttpResponse:
    """The works of the last week, newest first."""
    found = list(Work.objects.select_related("asked_by").order_by("-asked_at", "pk")[:MOST_SHOWN])
    return render(request, "works/list.html", {"works": [(work, COLOURS[State(work.state)]) for work in found]})


@require_safe
@for_coordinators
@never_cache
def show(request: PageRequest, key: Any) -> HttpResponse:
    """How far it is. The part of the page that moves asks for itself; once it is over the whole page comes anew."""
    work = get_object_or_404(Work.objects.select_related("asked_by"), key=key)
    facts = {"work": work, "colour": COLOURS[State(work.state)], "most_tries": TRIES}
    if request.htmx:
        answer = render(request, "works/progress.html", facts)
        if not work.is_open:
            answer["HX-Refresh"] = "true"
        return answer
    waits_long = work.state == State.ASKED and timezone.now() - work.asked_at > LEASE
    facts |= {"waits_long": waits_long, "leads_to": _leads_to(request, work), "file": _file_of(work)}
    facts["tried"] = rehearsed(work)
    return render(request, "works/show.html", facts)


@require_POST
@for_coordinators
def cancel(request: PageRequest, key: Any) -> HttpResponse:
    """Have it left off, and say what is true: what is being written may be through before anybody hears."""
    work = works.cancel(work=get_object_or_404(Work, key=key), by=request.user, at=timezone.now())
    if work.state == State.DONE:
        messages.warning(request, _("It was done already, before it could be cancelled."))
    elif work.is_open:
        messages.warning(request, _("Asked to stop. If it is through before it hears of that, this page says so."))
    return redirect("works:show", key=work.pk)


@require_safe
@for_coordinators
def file(request: PageRequest, key: Any) -> HttpResponse:
    """The file that a work made, to whoever asked for it."""
    made = get_object_or_404(WorkFile, work_id=key, work__state=State.DONE)
    answer = HttpResponse(bytes(made.data), content_type=made.content_type)
    answer["Content-Disposition"] = f'attachment; filename="{made.name}"'
    answer["Cache-Control"] = "private, no-store"
    return answer


def _file_of(work: Work) -> WorkFile | None:
    return WorkFile.objects.filter(work=work).defer("data").first() if work.state == State.DONE else None


def _leads_to(request: PageRequest, work: Work) -> dict[str, str] | None:
    """The page on which one goes on from here, where it is still there."""
    if work.kind == Kind.BRING_IN:
        here = BroughtFile.objects.of(request.user).filter(pk=work.keys["brought"]).exists()
        word = _("See the bookings") if work.state == State.DONE else _("Look the file over")
        return {"address": reverse("bringing:look", args=[work.keys["brought"]]), "word": word} if here else None
    if work.kind == Kind.BACKUP:
        return {"address": reverse("watch:status"), "word": _("The site")}
    if work.kind == Kind.REHEARSAL:
        return {"address": reverse("watch:try"), "word": _("Try another backup")}
    if work.kind == Kind.FIGURES:
        address = f"{reverse('season:figures')}?season={work.keys['season']}"
        return {"address": address, "word": _("The season in figures")}
    return {"address": reverse("bringing:copies"), "word": _("Copies of the bookings")}
