"""What the scheme settles about its juice."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.people.juice_terms import change_juice_terms
from kitshare.people.models import Scheme
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.forms import ChangeForm


class TermsForm(ChangeForm[Scheme]):
    """How high the scheme lies, and how long heated juice keeps."""

    class Meta:
        model = Scheme
        fields = ["altitude_m", "best_before_months"]


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def terms(request: PageRequest) -> HttpResponse:
    """Change how high the scheme lies and how long heated juice is said to keep."""
    # Another row for the form, which writes what was typed on its own.
    instance = Scheme.objects.get(pk=request.our_scheme.pk)
    form = TermsForm(request.POST if request.method == "POST" else None, instance=instance)
    if request.method == "POST" and form.is_valid():
        try:
            change_juice_terms(scheme=request.our_scheme, by=request.user, at=timezone.now(), **form.cleaned_data)
        except ChangedMeanwhile as refusal:
            form.refuse(refusal)
        else:
            messages.success(request, _("Saved. Checks and batches from now on go by it."))
            return redirect("heat:terms")
    return render(request, "heat/terms.html", {"form": form}, status=422 if form.errors else 200)
