"""Who has confirmed the briefing, and who has not."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.web.templatetags.kitshare import day


class WhoTable(tables.Table):
    """One row for each booking that is still to go out."""

    out_on = tables.Column(
        verbose_name=_("Goes out"), linkify=("bookings:show", {"pk": tables.A("pk")}), order_by=("out_on", "pk")
    )
    village = tables.Column(accessor="village__name", verbose_name=_("Village"), order_by=("village__name", "pk"))
    borrower = tables.Column(accessor="borrower__name", verbose_name=_("Signs"), order_by=("borrower__name", "pk"))
    briefed = tables.TemplateColumn(
        template_name="briefing/cells/briefed.html", verbose_name=_("Briefing"), order_by=("briefed", "out_on", "pk")
    )

    class Meta:
        order_by = "out_on"

    def render_out_on(self, record: Booking) -> str:
        return day(record.out_on)
