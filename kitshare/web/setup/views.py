"""The first run of a site, the scheme's settings, and its seasons."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from kitshare.bookings import seasons
from kitshare.bookings.models import Season
from kitshare.kits.models import Kit
from kitshare.kits.saving import KitsRefused
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people import actions as people
from kitshare.people import sign_ins
from kitshare.people.models import Member, Scheme, Village
from kitshare.people.refusals import PeopleRefused, SchemeExists
from kitshare.pressdays import beginning
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.feed_addresses import change_address
from kitshare.web.lists import on_pages
from kitshare.web.people.views import client_of
from kitshare.web.setup.forms import FirstRunForm, SchemeForm, SeasonForm
from kitshare.web.setup.restoring import restore_command
from kitshare.web.setup.tables import SeasonTable


@login_not_required
@sensitive_post_parameters("password", "again", "setup_word")
def first_run(request: HttpRequest) -> HttpResponse:
    """Start the scheme. Open to whoever comes first, on a public address only to whoever knows the setup word."""
    if Scheme.objects.current() is not None:
        return _started_already(request)
    if settings.BEHIND_TLS and not settings.SETUP_WORD:
        return render(request, "setup/word_missing.html", status=403)
    form = _first_run_form(request)
    if request.method == "POST" and form.is_valid():
        try:
            founded = beginning.begin(beginning=form.beginning(), at=timezone.now())
        except SchemeExists:
            return _started_already(request)
        except (PeopleRefused, seasons.SeasonRefused, KitsRefused) as refusal:
            form.refuse(refusal)
        else:
            login(request, founded.coordinator)
            return redirect("setup:what_next")
    return render(request, "setup/first_run.html", {"form": form, "restore": restore_command()})


def _first_run_form(request: HttpRequest) -> FirstRunForm:
    """The form; a wrong setup word counts as a try that went wrong."""
    if request.method != "POST":
        return FirstRunForm()
    if not settings.SETUP_WORD:
        return FirstRunForm(request.POST)
    client = client_of(request)
    wait_until = sign_ins.begin_try(address="setup word", client=client, at=timezone.now())
    form = FirstRunForm(request.POST, wait_until=wait_until)
    if "setup_word" not in form.errors:
        sign_ins.succeed(address="setup word", client=client)
    return form


def _started_already(request: HttpRequest) -> HttpResponse:
    """Whoever only looks goes on to the site; whoever typed everything is told that somebody was first."""
    if request.method != "POST":
        return redirect("home:home")
    return render(request, "setup/started_already.html", {"scheme": Scheme.objects.current()}, status=409)


@for_coordinators
def what_next(request: PageRequest) -> HttpResponse:
    """What a scheme that has just started still needs, with what is there already ticked off."""
    facts = {
        "kits": Kit.objects.in_use().order_by("name", "pk"),
        "has_villages": Village.objects.exists(),
        "has_borrowers": Member.objects.active().filter(borrows=True).exists(),
        "has_maintainers": Member.objects.maintaining().exists(),
    }
    return render(request, "setup/what_next.html", facts)


@for_coordinators
def scheme(request: PageRequest) -> HttpResponse:
    """The scheme's settings."""
    # Not request.our_scheme: the form writes what was typed on its scheme, and the frame shows the request's.
    form = SchemeForm(request.POST or None, instance=Scheme.objects.get(pk=request.our_scheme.pk))
    if request.method == "POST" and form.is_valid():
        try:
            people.change_scheme(scheme=request.our_scheme, by=request.user, at=timezone.now(), **form.cleaned_data)
        except (PeopleRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("The scheme's settings are saved."))
            return redirect("setup:scheme")
    current = Season.objects.current_or_next(timezone.localdate())
    return render(request, "setup/scheme.html", {"form": form, "season": current})


@for_coordinators
@require_POST
def scheme_feed(request: PageRequest) -> HttpResponse:
    """A new address for the scheme's calendar, or none."""
    change_address(request, of=request.our_scheme)
    return redirect("setup:scheme")


@for_coordinators
def season_list(request: PageRequest) -> HttpResponse:
    """Every season."""
    table = SeasonTable(Season.objects.order_by("-opens_on", "pk"))
    on_pages(request, table)
    return render(request, "setup/seasons.html", {"table": table})


@for_coordinators
def season_new(request: PageRequest) -> HttpResponse:
    """Open a season to bookings."""
    form = SeasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            added = seasons.add_season(by=request.user, at=timezone.now(), **form.cleaned_data)
        except seasons.SeasonRefused as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("%(name)s can be booked now.") % {"name": added.name})
            return redirect("setup:seasons")
    return render(request, "setup/season_new.html", {"form": form})


@for_coordinators
def season_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change a season; refused where bookings would fall outside it."""
    season = get_object_or_404(Season, pk=pk)
    name = season.name  # the form writes what was typed on the season
    form = SeasonForm(request.POST or None, instance=season)
    if request.method == "POST" and form.is_valid():
        try:
            seasons.change_season(season=season, by=request.user, at=timezone.now(), **form.cleaned_data)
        except (seasons.SeasonRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Saved."))
            return redirect("setup:seasons")
    return render(request, "setup/season_change.html", {"form": form, "name": name})
