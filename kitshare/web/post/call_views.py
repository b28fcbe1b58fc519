"""Whom to telephone today, what to say, and the tick when it is done."""

from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from kitshare.outbox import by_hand
from kitshare.outbox.models import Message
from kitshare.people.missed_calls import due_before
from kitshare.web.access import PageRequest, for_coordinators

MOST: Final = 100  # calls on a page; whoever has more to make starts with these


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody to ring, and everything to tell them in one call."""

    name: str
    telephone: str
    calls: list[Message]
    is_missed: bool


@require_safe
@for_coordinators
def calls(request: PageRequest) -> HttpResponse:
    """The list of calls: those that nobody made in time first."""
    now = timezone.now()
    before = due_before(request.our_scheme, at=now)
    open_calls = list(Message.objects.to_telephone().filter(due_at__lte=now).order_by("due_at", "pk")[: MOST + 1])
    ticked = Message.objects.filter(sent_at__gte=now - by_hand.UNDONE_WITHIN).exclude(told_by_name="")
    people = _by_person(open_calls[:MOST], before)
    shown = {
        "people": people,
        "missed": sum(person.is_missed for person in people),
        "are_more": len(open_calls) > MOST,
        "ticked": ticked.order_by("-sent_at", "-pk")[:MOST],
    }
    return render(request, "post/calls.html", shown)


def _by_person(found: list[Message], before: datetime) -> list[Person]:
    """One entry a person, whoever waits longest first."""
    place = {(call.member_key, call.to_telephone): nth for nth, call in reversed(list(enumerate(found)))}
    in_order = sorted(found, key=lambda call: place[call.member_key, call.to_telephone])
    grouped = [list(own) for _who, own in groupby(in_order, key=lambda call: (call.member_key, call.to_telephone))]
    return [
        Person(own[0].to_name, own[0].to_telephone, own, is_missed=any(call.due_at < before for call in own))
        for own in grouped
    ]


@require_POST
@for_coordinators
def told(request: PageRequest, pk: int) -> HttpResponse:
    """Note that the person was told by telephone."""
    message = get_object_or_404(Message, pk=pk)
    try:
        by_hand.mark_told(message=message, by=request.user, at=timezone.now())
        messages.success(request, _("Noted: %(name)s was told by telephone.") % {"name": message.to_name})
    except by_hand.AlreadyTold as refusal:
        messages.warning(request, str(refusal))
    return _back(request, pk)


@require_POST
@for_coordinators
def not_told(request: PageRequest, pk: int) -> HttpResponse:
    """Take a tick back."""
    message = get_object_or_404(Message, pk=pk)
    try:
        by_hand.undo_told(message=message, by=request.user, at=timezone.now())
        messages.success(request, _("Taken back: %(name)s is still to be told.") % {"name": message.to_name})
    except by_hand.NotToUndo as refusal:
        messages.warning(request, str(refusal))
    return _back(request, pk)


def _back(request: PageRequest, pk: int) -> HttpResponseRedirect:
    return redirect("post:calls") if request.POST.get("from") == "calls" else redirect("post:show", pk=pk)
