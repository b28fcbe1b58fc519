"""Supply for the day: what one socket and its leads are asked to carry. It adds up and compares; nothing is kept."""

from decimal import Decimal
from typing import Final

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.formats import number_format
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Booking
from kitshare.rules.supply import Caveat, Warn, supply
from kitshare.web.access import PageRequest
from kitshare.web.pressdays.supply_forms import SupplyForm

WORDS: Final = {
    Warn.POWER_UNKNOWN: _("Nobody wrote down what %(about)s draws: it is left out. Read its plate."),
    Warn.RECKONED_FROM_WATTS: _(
        "%(about)s is reckoned from its watts. A motor draws more than that, and several times as much as it starts."
    ),
    Warn.OVER_SOCKET: _("The machines draw %(found)s A, and the socket carries %(limit)s A."),
    Warn.OVER_PROTECTION: _("The machines draw %(found)s A, and the fuse or breaker holds %(limit)s A: it will go."),
    Warn.OVER_DRUM_UNWOUND: _("%(about)s: %(found)s A is more than the drum carries even unwound, %(limit)s A."),
    Warn.OVER_DRUM_WOUND: _("%(about)s: %(found)s A is more than a wound drum carries, %(limit)s A. Unwind it wholly."),
    Warn.DRUM_WOUND: _("%(about)s is on a wound drum, where it cannot shed its heat. Unwind it wholly."),
    Warn.VOLTS_LOST: _(
        "%(found)s per cent of the voltage is lost on the way, more than %(limit)s: a motor starts badly and runs hot."
        " Take a shorter or a thicker lead."
    ),
    Warn.NO_TRIP_SWITCH: _("There is no trip switch before it, or nobody knows. Put one of 30 mA at the socket."),
    Warn.TRIP_SWITCH_COARSE: _("The trip switch is coarser than %(limit)s mA. Put one of 30 mA at the socket."),
    Warn.LONG_WITHOUT_TRIP_SWITCH: _(
        "%(found)s m of lead without a trip switch: %(limit)s m is the most for this cross-section (quoted, United"
        " Kingdom)."
    ),
    Warn.NOT_PROOF_AGAINST_JETS: _(
        "%(about)s is not known to be proof against jets of water (second IP figure 5 or 6; 7 alone is not)."
        " Keep its sockets off the ground and away from hoses."
    ),
}
QUIET: Final = {Warn.RECKONED_FROM_WATTS}


@require_safe
def supply_for_the_day(request: PageRequest, booking_pk: int) -> HttpResponse:
    """Add up what the machines of a booking draw from one socket. What is typed stands in the address."""
    bookings = Booking.objects.visible_to(request.user).select_related("village").prefetch_related("machines")
    booking = get_object_or_404(bookings, pk=booking_pk)
    machines = [machine for machine in booking.machines.all() if machine.power_watts != 0]
    asked = request.GET if "socket_amps" in request.GET else None
    form = SupplyForm(asked, machines=machines, rules=request.our_scheme.electrical_rules)
    found = supply(form.line()) if asked is not None and form.is_valid() else None
    shown = {
        "booking": booking,
        "form": form,
        "found": found,
        "is_run": bool(machines),
        "warnings": sorted(map(_line, found.warnings), key=lambda line: line[1] == "quiet") if found else [],
    }
    return render(request, "pressdays/supply.html", shown)


def _line(caveat: Caveat) -> tuple[str, str]:
    """A warning in words, and its tone."""
    words = {"about": caveat.about, "found": _number(caveat.found), "limit": _number(caveat.limit)}
    return str(WORDS[caveat.code]) % words, "quiet" if caveat.code in QUIET else "stop"


def _number(value: Decimal | None) -> str:
    return "" if value is None else number_format(f"{round(value, 2).normalize():f}")
