"""The relay check: one sheet for two villages."""

from functools import partial

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.bookings.relay_models import Relay
from kitshare.checks.gates import check_relay_can_start, is_early, why_not
from kitshare.checks.lines import handed_over
from kitshare.checks.models import CheckKind, HandoverCheck
from kitshare.checks.relaying import relay_list
from kitshare.web.access import PageRequest
from kitshare.web.checks import phone
from kitshare.web.checks.facts import to_mind
from kitshare.web.checks.paper import is_of_this_moment, may_be_typed_in, paper_for
from kitshare.web.checks.pausing import begun_by, carried_on
from kitshare.web.checks.sheets import CheckSheet
from kitshare.web.checks.views import not_now, record
from kitshare.web.phone.keeping import asks_ahead, kept_on_a_phone, not_for_later
from kitshare.web.phones import is_phone


@kept_on_a_phone
def relay(request: PageRequest, pk: int) -> HttpResponse:
    """The sheet with which one village hands the kit on to the next, or why it cannot now."""
    if is_phone(request) and request.method == "POST":
        return phone.take_of_relay(request, pk)
    found = get_object_or_404(Relay.objects.visible_to(request.user).with_bookings(), pk=pk)
    booking = Booking.objects.with_people().get(pk=found.second.pk)
    found.second = booking
    listed = relay_list(found)
    paper = paper_for(request, booking, CheckKind.RELAY)
    refusal = None
    if request.method == "POST":
        data, files = request.POST, request.FILES
        sheet = CheckSheet(booking=booking, kind=CheckKind.RELAY, listed=listed, data=data, files=files)
        sheet.paper = paper
        answer = record(request, sheet, relay=found)
        if answer is not None:
            return answer
    else:
        check = partial(check_relay_can_start, relay=found, by=request.user, today=timezone.localdate())
        refusal = why_not(check)
        is_for_later = refusal and is_early(refusal) and asks_ahead(request)
        if refusal and not is_for_later and not (paper and may_be_typed_in(refusal)):
            mine = Booking.objects.visible_to(request.user).with_people()
            own = mine.filter(pk__in=[found.first.pk, found.second.pk]).order_by("-out_on")[0]
            return not_now(request, own, CheckKind.RELAY, refusal, done=_done(found))
        begun = carried_on(request, booking, CheckKind.RELAY)
        sheet = CheckSheet(booking=booking, kind=CheckKind.RELAY, listed=listed, begun=begun)
        sheet.paper = paper
    own = booking if Booking.objects.visible_to(request.user).filter(pk=booking.pk).exists() else found.first
    shown = {"booking": booking, "relay": found, "form": sheet, "sheet": sheet, "back": own, "early": refusal}
    shown["to_mind"] = to_mind(booking, timezone.localdate())
    shown["pauses"] = begun_by(request, booking, CheckKind.RELAY)
    _name_villages(sheet, found)
    answer = render(request, "checks/relay.html", shown)
    return not_for_later(answer) if is_of_this_moment(request) else answer


def _done(relay: Relay) -> HandoverCheck | None:
    return handed_over(relay.second, CheckKind.PICKUP) if relay.done_at else None


def _name_villages(sheet: CheckSheet, relay: Relay) -> None:
    """Each of the two names says for which village."""
    fields = sheet.signature_form.fields
    words = {"first": relay.first.village.name, "second": relay.second.village.name}
    fields["signed_name"].label = _("Name: hands over for %(first)s") % words
    fields["taken_name"].label = _("Name: takes it on for %(second)s") % words
