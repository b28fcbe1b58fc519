"""Closed days: the list, closing some, opening them again, and whose holidays are shown."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from kitshare.bookings import closing
from kitshare.bookings.closing import ClosingRefused, NotTheirsToClose
from kitshare.bookings.models import ClosedKind, ClosedSpell, Season
from kitshare.bookings.refusals import Holding
from kitshare.kits.models import Depot, Machine
from kitshare.people.holidays_shown import HolidaysUnknown, show_holidays
from kitshare.people.models import Member, Scheme
from kitshare.rules import feasts
from kitshare.web.access import PageRequest, for_coordinators, for_members_who_run_things
from kitshare.web.lists import on_pages
from kitshare.web.season.forms import CloseDepotForm, CloseHolidaysForm, CloseMachinesForm, HolidaysForm
from kitshare.web.season.tables import ClosedSpellTable

Form = CloseDepotForm | CloseMachinesForm | CloseHolidaysForm
TEMPLATES: Final = {ClosedKind.HOLIDAY: "season/close_holidays.html"}


@require_safe
def closed_days(request: PageRequest) -> HttpResponse:
    """What is closed from today on, or what was; every member may read it."""
    today = timezone.localdate()
    shows_past = request.GET.get("when") == "over"
    spells = ClosedSpell.objects.in_order()
    found = spells.filter(last_day__lt=today) if shows_past else spells.from_day(today)
    closable = theirs_to_close(request.user)
    table = ClosedSpellTable(found, exclude=("deed",) if shows_past or not closable else ())
    table.openable = closable
    if shows_past:
        table.order_by = "-first_day"
    on_pages(request, table)
    shown = {"table": table, "some": bool(table.paginator.count), "shows_past": shows_past, "closable": closable}
    return render(request, "season/closed_days.html", shown)


@require_http_methods(["GET", "HEAD", "POST"])
@for_members_who_run_things
def close(request: PageRequest, kind: str) -> HttpResponse:
    """Close a depot, machines that are away, or holidays; refused where bookings stand in the way."""
    if kind not in ClosedKind.values:
        raise Http404
    chosen, today = ClosedKind(kind), timezone.localdate()
    try:
        closing.check_may_close(kind=chosen, by=request.user)
    except NotTheirsToClose as refusal:
        raise PermissionDenied(str(refusal)) from refusal
    form = _form(request, chosen, today)
    in_the_way: Sequence[Holding] = ()
    if request.method == "POST" and form.is_valid():
        try:
            _close(request, chosen, form.cleaned_data, today)
        except ClosingRefused as refusal:
            form.refuse(refusal)
            in_the_way = getattr(refusal, "in_the_way", ())
        else:
            messages.success(request, _("Closed. Nothing goes out on these days."))
            return redirect("season:closed_days")
    shown = {"form": form, "kind": kind, "in_the_way": in_the_way, "place": _place(request.our_scheme)}
    return render(request, TEMPLATES.get(chosen, "season/close.html"), shown, status=409 if in_the_way else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@for_members_who_run_things
def open_again(request: PageRequest, pk: int) -> HttpResponse:
    """Open what was closed: a page asks once more."""
    spell = get_object_or_404(ClosedSpell.objects.in_order(), pk=pk)
    try:
        closing.check_may_close(kind=ClosedKind(spell.kind), by=request.user)
        if request.method == "POST":
            closing.open_again(spell=spell, by=request.user, at=timezone.now(), today=timezone.localdate())
            messages.success(request, _("Open again: these days can be booked."))
            return redirect("season:closed_days")
    except NotTheirsToClose as refusal:
        raise PermissionDenied(str(refusal)) from refusal
    except ClosingRefused as refusal:
        messages.warning(request, str(refusal))
        return redirect("season:closed_days")
    what = closing.what_in_words(spell, spell.machines.all())
    is_over = spell.last_day < timezone.localdate()
    return render(request, "season/open_again.html", {"spell": spell, "what": what, "is_over": is_over})


@require_http_methods(["GET", "HEAD", "POST"])
@for_coordinators
def holidays(request: PageRequest) -> HttpResponse:
    """Whose holidays the season shows."""
    scheme = request.our_scheme
    form = HolidaysForm(initial={"country": scheme.holiday_country, "part": scheme.holiday_part})
    if request.method == "POST":
        form = HolidaysForm(request.POST)
    if request.POST.get("deed") == "look":
        form = HolidaysForm(initial={"country": request.POST.get("country", "")})
    elif request.method == "POST" and form.is_valid():
        try:
            show_holidays(scheme=scheme, **form.cleaned_data, by=request.user, at=timezone.now())
        except HolidaysUnknown as refusal:
            form.add_error(refusal.field, str(refusal))
        else:
            messages.success(request, _("Saved. The season shows these holidays."))
            return redirect("season:closed_days")
    country = str(form["country"].value() or "")
    part = str(form["part"].value() or "")
    season = Season.objects.current_or_next(timezone.localdate())
    named = feasts.holidays_in(season.period, country=country, part=part) if season else {}
    shown = {"form": form, "named": named.items(), "season": season, "country": country}
    return render(request, "season/holidays.html", shown)


def theirs_to_close(member: Member) -> frozenset[str]:
    """The kinds of closed days that a member may make and take back."""

    def may(kind: ClosedKind) -> bool:
        try:
            closing.check_may_close(kind=kind, by=member)
        except NotTheirsToClose:
            return False
        return True

    return frozenset(kind.value for kind in ClosedKind if may(kind))


def _form(request: PageRequest, kind: ClosedKind, today: date) -> Form:
    typed = request.POST if request.method == "POST" else None
    if kind == ClosedKind.HOLIDAY:
        return CloseHolidaysForm(typed, named=_holidays_to_close(request.our_scheme, today))
    if kind == ClosedKind.DEPOT:
        return CloseDepotForm(typed, depots=list(Depot.objects.order_by("name", "pk")))
    machines = Machine.objects.in_use().order_by("kit__name", "kit_id", "position", "pk")
    return CloseMachinesForm(typed, offered=list(machines))


def _holidays_to_close(scheme: Scheme, today: date) -> dict[date, str]:
    """The holidays still to come of the season that is on or next, without those that are closed already."""
    season = Season.objects.current_or_next(today)
    if season is None:
        return {}
    spells = ClosedSpell.objects.filter(kind=ClosedKind.HOLIDAY, last_day__gte=today)
    closed = {day for spell in spells for day in spell.period.days}
    found = feasts.holidays_in(season.period, country=scheme.holiday_country, part=scheme.holiday_part)
    return {day: name for day, name in found.items() if day >= today and day not in closed}


def _close(request: PageRequest, kind: ClosedKind, cleaned: dict[str, Any], today: date) -> None:
    signed: dict[str, Any] = {"by": request.user, "at": timezone.now(), "today": today}
    if kind == ClosedKind.HOLIDAY:
        closing.close_holidays(named=cleaned["days"], **signed)
        return
    close_days: Callable[..., ClosedSpell] = closing.close_days
    close_days(kind=kind, **({"depot": None, "machines": ()} | cleaned), **signed)


def _place(scheme: Scheme) -> str:
    return feasts.place_in_words(scheme.holiday_country, scheme.holiday_part) if scheme.holiday_country else ""
