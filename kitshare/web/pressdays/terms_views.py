"""What plans of press days go by: the page on which a coordinator settles it."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people import press_terms
from kitshare.people.models import Scheme
from kitshare.people.refusals import PeopleRefused
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.pressdays.terms_form import PressTermsForm


@for_coordinators
def terms(request: PageRequest) -> HttpResponse:
    """What plans of press days go by."""
    # Not request.our_scheme: the form writes what was typed on its scheme, and the frame shows the request's.
    form = PressTermsForm(request.POST or None, instance=Scheme.objects.get(pk=request.our_scheme.pk))
    if request.method == "POST" and form.is_valid():
        try:
            press_terms.change_press_terms(
                scheme=request.our_scheme, by=request.user, at=timezone.now(), **form.facts()
            )
        except (PeopleRefused, ChangedMeanwhile) as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Saved. Plans are worked out with it from now on."))
            return redirect("pressdays:terms")
    return render(request, "pressdays/terms.html", {"form": form})
