"""Ways of answering that the views of kits, machines and parts share."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone

from kitshare.kits.saving import KitsRefused, NameTaken
from kitshare.logbook.actions import ChangedMeanwhile
from kitshare.web.access import PageRequest
from kitshare.web.forms import WatchingForm
from kitshare.web.kits.forms import FactsForm


@dataclass(frozen=True, slots=True)
class FormPage:
    """The words around a form on a page of its own."""

    title: str
    button: str
    back: str
    lead: str = ""
    warning: str = ""
    second: str = ""  # a second button, sent as `another`


def posted(request: PageRequest) -> QueryDict | None:
    """What was sent, be it nothing at all; None where the page was only asked for."""
    return request.POST if request.method == "POST" else None


def signed(request: PageRequest) -> dict[str, Any]:
    """Who does a deed, when, and on which day."""
    return {"by": request.user, "at": timezone.now(), "today": timezone.localdate()}


def changes(request: PageRequest, form: FactsForm) -> dict[str, Any]:
    """What a deed that changes facts takes from a form: only what was changed in it, and what it had seen."""
    return {"by": request.user, "at": timezone.now(), "seen": form.seen, **form.changed_facts}


def done(form: forms.BaseForm, deed: Callable[[], object]) -> bool:
    """Do the deed if the form is in order; a refusal goes into the form, which keeps what was typed."""
    if not form.is_valid():
        return False
    try:
        deed()
    except ChangedMeanwhile as change:
        assert isinstance(form, WatchingForm)  # noqa: S101 - no other form says what it has seen
        form.refuse_for(change)
        return False
    except KitsRefused as refusal:
        form.add_error("name" if isinstance(refusal, NameTaken) and "name" in form.fields else None, str(refusal))
        return False
    return True


def form_page(request: PageRequest, form: forms.BaseForm, page: FormPage, template: str = "form") -> HttpResponse:
    """Show a form, with 422 where it was refused."""
    status = 422 if form.errors else 200
    return render(request, f"kits/{template}.html", {"form": form, "page": page}, status=status)
