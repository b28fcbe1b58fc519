"""The page on which a coordinator sees whether all is well behind the pages."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kitshare.watch.standing import standing
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.watch.facts import facts_of
from kitshare.web.watch.troubles import troubles


@require_safe
@for_coordinators
def status(request: PageRequest) -> HttpResponse:
    """What is wrong and what to do; below it what is known, well or not."""
    seen = standing(timezone.now())
    found = troubles(seen, is_demonstration=request.our_scheme.is_demonstration)
    return render(request, "watch/status.html", {"troubles": found, "facts": facts_of(seen), "at": seen.at})
