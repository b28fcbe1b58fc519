"""What needs a coordinator because of checks: a kit out in spite of a stop, a sheet that could not be recorded."""

from collections.abc import Iterator
from typing import Final

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck
from kitshare.checks.sent_models import SentSheet
from kitshare.web.home.need import Need

MOST_SHOWN: Final = 20


def of_handovers_in_spite() -> Iterator[Need]:
    """Kits that are out now though the gates refused: before all else."""
    out = HandoverCheck.objects.in_spite().filter(booking__stage=Stage.OUT).select_related("booking__village")
    for check in out.order_by("done_at", "pk")[:MOST_SHOWN]:
        yield Need(
            rank=-1,
            tone="stop",
            word=_("in spite of a stop"),
            text=_("%(village)s has the kit. %(why)s") % {"village": check.booking.village.name, "why": check.in_spite},
            address=reverse("checks:show", args=[check.pk]),
            deed=_("See the check, then telephone"),
        )


def of_sheets() -> Iterator[Need]:
    """Sheets from phones that could not become the check."""
    kept = SentSheet.objects.loud().count()
    if kept:
        text = ngettext(
            "%(count)s sheet from a phone could not be recorded as it came.",
            "%(count)s sheets from phones could not be recorded as they came.",
            kept,
        )
        yield Need(
            rank=1,
            tone="stop",
            word=_("sheets kept"),
            text=text % {"count": kept},
            address=reverse("checks:sent_list"),
            deed=_("See what was signed"),
        )
