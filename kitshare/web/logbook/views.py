"""The logbook of the whole scheme."""

from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Exists, OuterRef
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from kitshare.logbook.models import Entry, EntryQuerySet, Mention
from kitshare.web.access import PageRequest, for_maintainers
from kitshare.web.lists import on_pages
from kitshare.web.logbook.facts import LINES
from kitshare.web.logbook.forms import SearchForm
from kitshare.web.logbook.tables import Logbook


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min))


def _found(asked: dict[str, Any]) -> EntryQuerySet:
    lines: EntryQuerySet = Entry.objects.all()
    if asked.get("words"):
        lines = lines.filter(text__icontains=asked["words"])
    if asked.get("who"):
        lines = lines.filter(by_name__icontains=asked["who"])
    if asked.get("kind"):
        lines = lines.filter(Exists(Mention.objects.filter(entry=OuterRef("pk"), kind=asked["kind"])))
    if asked.get("since"):
        lines = lines.filter(at__gte=_midnight(asked["since"]))
    if asked.get("until"):
        lines = lines.filter(at__lt=_midnight(asked["until"] + timedelta(days=1)))
    return lines


@for_maintainers
def logbook_list(request: PageRequest) -> HttpResponse:
    """Every line, newest first, narrowed down by words, person, kind of thing and days."""
    form = SearchForm(request.GET or None)
    asked = form.cleaned_data if form.is_valid() else {}
    table = Logbook(_found(asked).order_by("-at", "-pk").prefetch_related("mentions"))
    on_pages(request, table, rows=LINES)
    return render(request, "logbook/list.html", {"form": form, "table": table, "narrowed": any(asked.values())})
