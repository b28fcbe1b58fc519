"""Pages of a coordinator about relays: arranging one, changing it, undoing it."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from kitshare.bookings import relays
from kitshare.bookings.models import AHEAD, Booking
from kitshare.bookings.refusals import BookingRefused, ChangedMeanwhile, MachineTaken
from kitshare.bookings.relay_models import Relay
from kitshare.web.access import PageRequest, for_coordinators
from kitshare.web.bookings.relay_facts import firsts_for
from kitshare.web.bookings.relay_forms import MeetingForm, RelayForm, UndoRelayForm

# A refusal about days is said by the day that can be typed here.
FIELD_OF = {"days": "back_on"}


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def relay_new(request: PageRequest, pk: int) -> HttpResponse:
    """Let a booking follow another directly: the village before hands the machines on."""
    second = get_object_or_404(Booking.objects.with_people(), pk=pk)
    today = timezone.localdate()
    firsts = firsts_for(second, today)
    if second.stage not in AHEAD or not firsts or Relay.objects.filter(second=second).exists():
        messages.warning(request, _("No booking of the same machines ends near these days and can hand them on."))
        return redirect("bookings:show", pk=pk)
    form = RelayForm(request.POST or None, firsts=firsts, initial=_initial(second, firsts))

    def act(cleaned: dict[str, Any]) -> None:
        first = form.firsts[cleaned["first"]]
        facts = {name: cleaned[name] for name in ("period", "carried_by", "meet_at", "meet_time", "revision")}
        at = timezone.now()
        revision = first.revision
        relays.arrange_relay(
            first=first, second=second, first_revision=revision, **facts, by=request.user, at=at, today=today
        )

    shown = {"booking": second, "waits": second.stage == "asked"}
    return _answer(request, form, act, "bookings/relay_new.html", shown, done=_("Arranged. Both villages are told."))


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def relay_change(request: PageRequest, pk: int) -> HttpResponse:
    """Change who carries it, where they meet, and when."""
    relay = _relay(pk)
    meeting = {"carried_by": relay.carried_by, "meet_at": relay.meet_at, "meet_time": relay.second.out_time}
    form = MeetingForm(request.POST or None, initial=meeting | {"revision": relay.second.revision})

    def act(cleaned: dict[str, Any]) -> None:
        relays.change_relay(relay=relay, **cleaned, by=request.user, at=timezone.now())

    shown = {"booking": relay.second, "relay": relay}
    return _answer(request, form, act, "bookings/relay_change.html", shown, done=_("Changed. Both villages are told."))


@for_coordinators
@require_http_methods(["GET", "HEAD", "POST"])
def relay_undo(request: PageRequest, pk: int) -> HttpResponse:
    """Let the machines go by the depot after all."""
    relay = _relay(pk)
    form = UndoRelayForm(request.POST or None, initial=_days_without(relay) | {"revision": relay.second.revision})

    def act(cleaned: dict[str, Any]) -> None:
        facts = {"period": cleaned["period"], "revision": cleaned["revision"]}
        relays.undo_relay(relay=relay, **facts, by=request.user, at=timezone.now(), today=timezone.localdate())

    shown = {"booking": relay.second, "relay": relay}
    return _answer(request, form, act, "bookings/relay_undo.html", shown, done=_("Undone. Both villages are told."))


def _relay(pk: int) -> Relay:
    relay: Relay = get_object_or_404(Relay.objects.pending().with_bookings(), pk=pk)
    return relay


def _initial(second: Booking, firsts: list[Booking]) -> dict[str, Any]:
    """The nearest before it; and the days it has, as far as they still follow."""
    first = min(firsts, key=lambda one: (abs(one.back_on - second.out_on), one.pk))
    length = second.back_on - second.out_on
    return {
        "first": f"{first.pk}-{first.revision}",
        "meet_time": first.back_time,
        "back_on": second.back_on if second.back_on > first.back_on else first.back_on + length,
        "revision": second.revision,
    }


def _days_without(relay: Relay) -> dict[str, date]:
    """The second village starts once the first one's care days are over, and keeps its day of return if it can."""
    second = relay.second
    care = max((machine.kit.care_days for machine in second.machines.select_related("kit")), default=0)
    out_on = relay.first.back_on + timedelta(days=care)
    return {"out_on": out_on, "back_on": max(second.back_on, out_on + timedelta(days=1))}


def _answer(
    request: PageRequest,
    form: Form,
    act: Callable[[dict[str, Any]], None],
    template: str,
    shown: dict[str, Any],
    *,
    done: str,
) -> HttpResponse:
    """The form; sent and allowed, the deed and then the booking's page. Refused, it says why and keeps all."""
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            act(form.cleaned_data)
        except ChangedMeanwhile as refusal:
            _go_on_from(form, refusal)
            status = 409
        except MachineTaken as refusal:
            form.add_error("back_on", " ".join([_("Somebody has these days already."), *map(str, refusal.taken)]))
            status = 409
        except BookingRefused as refusal:
            name = FIELD_OF.get(refusal.field or "", refusal.field)
            form.add_error(name if name in form.fields else None, str(refusal))
            status = 409
        else:
            messages.success(request, done)
            return redirect("bookings:show", pk=shown["booking"].pk)
    return render(request, template, shown | {"form": form}, status=status)


def _go_on_from(form: Form, refusal: ChangedMeanwhile) -> None:
    """Say what was changed meanwhile. Sent again, the form goes by what can be read now."""
    typed = QueryDict(mutable=True)
    typed.update(form.data)
    typed["revision"] = str(refusal.revision)
    form.data = typed
    form.add_error(None, str(refusal))
