"""The briefing ahead of a season's first pickup."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from kitshare.bookings import briefing
from kitshare.bookings.briefing import BriefingRefused, WordsChanged
from kitshare.bookings.briefing_models import BriefingSettings, confirmed
from kitshare.bookings.models import AHEAD, Booking
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people.models import Member
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.briefing.forms import PointsForm, WordsForm
from kitshare.web.briefing.tables import WhoTable
from kitshare.web.lists import on_pages
from kitshare.web.phone.keeping import kept_on_a_phone


@kept_on_a_phone
def read(request: PageRequest) -> HttpResponse:
    """Read it, and confirm each point."""
    return _page(request, request.user)


@for_coordinators
def member(request: PageRequest, pk: int) -> HttpResponse:
    """Write down that somebody confirmed each point on paper."""
    return _page(request, get_object_or_404(Member.objects.active(), pk=pk))


def _page(request: PageRequest, whose: Member) -> HttpResponse:
    season = briefing.season_to_brief_for(timezone.localdate())
    words = briefing.words_in_force()
    form = PointsForm(request.POST if request.method == "POST" else None, words=words)
    if season is not None and form.is_valid():
        try:
            briefing.confirm_briefing(
                member=whose,
                season=season,
                points=form.ticked,
                version=form.cleaned_data["version"],
                by=request.user,
                at=timezone.now(),
            )
        except BriefingRefused as refusal:
            form.add_error(None, str(refusal))
            if isinstance(refusal, WordsChanged):
                form.ask_anew(words)
        else:
            messages.success(request, _("Written down. Thank you."))
            return redirect("briefing:read" if whose == request.user else "briefing:who")
    context = {
        "form": form,
        "season": season,
        "words": words,
        "whose": whose,
        "is_own": whose == request.user,
        "done": briefing.reading(member=whose, season=season, words=words) if season else None,
    }
    return render(request, "briefing/read.html", context, status=422 if form.errors else 200)


@for_coordinators
@require_safe
def who(request: PageRequest) -> HttpResponse:
    """The bookings to come, and whose briefing is still open."""
    coming = Booking.objects.filter(stage__in=AHEAD, back_on__gt=timezone.localdate()).annotate(briefed=confirmed())
    table = WhoTable(coming.select_related("village", "borrower"))
    on_pages(request, table)
    context = {"table": table, "words": briefing.words_in_force()}
    return render(request, "briefing/who.html", context)


@for_coordinators
def words(request: PageRequest) -> HttpResponse:
    """The scheme's own words, and whether a pickup waits."""
    kept = BriefingSettings.objects.first() or BriefingSettings(pk=1)
    form = WordsForm(request.POST if request.method == "POST" else None, instance=kept)
    if form.is_valid():
        said = form.cleaned_data
        try:
            briefing.change_briefing(
                own_words=said["own_words"],
                holds_pickup=said["holds_pickup"],
                by=request.user,
                at=timezone.now(),
                seen=said["seen"],
            )
        except ChangedMeanwhile as change:
            form.refuse_for(change)
        else:
            messages.success(request, _("Saved."))
            return redirect("briefing:words")
    return render(request, "briefing/words.html", {"form": form}, status=422 if form.errors else 200)
