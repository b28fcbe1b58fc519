"""Trying a backup: choose one or send one in, look at what it says of itself, and have it restored beside the site."""

from datetime import datetime
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods

from kitshare.keeping import kept
from kitshare.keeping.archive import peek
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.places import free_bytes
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.rehearsing import check_can_try
from kitshare.keeping.telling import ENGINES, THINGS
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.middleware import DROPPED_AT_MOST
from kitshare.web.templatetags.kitshare import moment
from kitshare.web.watch.sending import OntoTheDisk, SendForm, taken_in
from kitshare.works import actions as works
from kitshare.works.models import Kind, Work

MOST_SHOWN: Final = 20
TRIES_SHOWN: Final = 5


@csrf_exempt  # the inner view is protected: here it must be said first where the file is to go
@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: PageRequest) -> HttpResponse:
    """The backups that are kept, a form for one that is not, and what became of the last tries."""
    return _choose(request, handler=taken_in(request))


# What is larger than the site takes is read and refused beside the field; the rest of it by the page for all such.
choose.most_bytes = DROPPED_AT_MOST  # type: ignore[attr-defined]


@csrf_protect
def _choose(request: PageRequest, handler: OntoTheDisk) -> HttpResponse:
    if request.method == "POST":
        kept.sweep_sent(at=timezone.now(), needed=Work.objects.files_to_try())
        form = SendForm(request.POST, request.FILES, refusal=handler.refusal)
        if form.is_valid():
            return redirect("watch:try_one", name=form.cleaned_data["file"].keep())
    else:
        form = SendForm()
    found = kept.kept_backups()
    facts = {
        "form": form,
        "backups": [(one, _size(one.size_bytes)) for one in found[:MOST_SHOWN]],
        "more": len(found[MOST_SHOWN:]),
        "tries": Work.objects.tries_of_backups()[:TRIES_SHOWN],
        "on_several_hosts": settings.SEVERAL_HOSTS,
    }
    return render(request, "watch/try.html", facts, status=422 if form.errors else 200)


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def look(request: PageRequest, name: str) -> HttpResponse:
    """What a backup says of itself, and whether it can be tried here now; then have it tried."""
    file = kept.find(name)
    if file is None:
        raise Http404
    facts: dict[str, Any] = {"name": name, "is_sent": kept.is_sent(name), "size": _size(file.stat().st_size)}
    try:
        facts["manifest"] = peek(file)
        check_can_try(file, is_sent=kept.is_sent(name))
    except KeepingRefused as refusal:
        facts["refusal"] = str(refusal).replace(str(file), _("The file") if kept.is_sent(name) else name)
    else:
        if request.method == "POST":
            return _ask(request, name, facts["manifest"].made_at)
    if "manifest" in facts:
        facts["known"] = _known(facts["manifest"], facts["size"])
    return render(request, "watch/try_one.html", facts, status=409 if request.method == "POST" else 200)


def _ask(request: PageRequest, name: str, made_at: datetime) -> HttpResponse:
    title = _("Try of the backup of %(made)s") % {"made": moment(made_at)}
    keys = {"file": name}
    work = works.ask(kind=Kind.REHEARSAL, about="site", keys=keys, title=title, by=request.user, at=timezone.now())
    if work.keys != keys:
        messages.warning(
            request, _("Another backup is being tried, and one is at a time. Choose yours again after it.")
        )
    return redirect("works:show", key=work.key)


def _known(manifest: Manifest, size: str) -> list[tuple[str, str]]:
    free = free_bytes(Path(settings.DATA))
    things = [f"{_n(manifest.rows[table])} {thing}" for table, thing in THINGS.items() if table in manifest.rows]
    made_by = _("Kitshare %(version)s on %(engine)s")
    return [
        (_("Made on"), moment(manifest.made_at)),
        (_("Made by"), made_by % {"version": manifest.project or "?", "engine": ENGINES[manifest.engine]}),
        (_("In it"), ", ".join([*things, _("%(count)s photos") % {"count": _n(len(manifest.photos))}])),
        (_("Size"), _("%(size)s; %(free)s are free on the site's disk") % {"size": size, "free": _size(free)}),
    ]


def _size(size_bytes: int) -> str:
    if size_bytes < 10_000_000:
        return _("%(size)s MB") % {"size": number_format(size_bytes / 1e6, decimal_pos=1)}
    return _("%(size)s MB") % {"size": _n(size_bytes // 1_000_000)}


def _n(number: int) -> str:
    return number_format(number, use_l10n=True, force_grouping=True)
