"""The page on which a coordinator sees whether all is well behind the pages."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitshare.watch.standing import standing
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.watch.facts import facts_of
from kitshare.web.watch.tries import fact_of_try, trouble_of_try
from kitshare.web.watch.troubles import troubles
from kitshare.works import actions as works
from kitshare.works.models import Kind, Work


@require_safe
@for_coordinators
def status(request: PageRequest) -> HttpResponse:
    """What is wrong and what to do; below it what is known, well or not."""
    seen = standing(timezone.now())
    last_try = Work.objects.tries_of_backups().first()
    found = troubles(seen, is_demonstration=request.our_scheme.is_demonstration) + trouble_of_try(last_try)
    facts = [*facts_of(seen), fact_of_try(last_try, seen.at)]
    return render(
        request, "watch/status.html", {"troubles": found, "facts": facts, "last_try": last_try, "at": seen.at}
    )


@require_POST
@for_coordinators
def back_up(request: PageRequest) -> HttpResponse:
    """Have a backup made beside the pages. Asked for twice it is the one that is under way."""
    title = _("Backup of the site")
    work = works.ask(kind=Kind.BACKUP, about="site", keys={}, title=title, by=request.user, at=timezone.now())
    return redirect("works:show", key=work.key)
