"""The list of bookings."""

from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking, Stage

STAGE_COLOURS = {
    Stage.WAITING: "quiet",
    Stage.ASKED: "plum",
    Stage.AGREED: "done",
    Stage.OUT: "care",
    Stage.BACK: "quiet",
    Stage.CLOSED: "quiet",
    Stage.DECLINED: "quiet",
    Stage.CALLED_OFF: "quiet",
}


class BookingTable(tables.Table):
    """One row a booking; the days lead to its page."""

    out_on = tables.TemplateColumn(
        template_name="bookings/cells/days.html", verbose_name=_("Days"), order_by=("out_on", "pk")
    )
    village = tables.Column(verbose_name=_("Village"), accessor="village__name", order_by=("village__name", "out_on"))
    machines = tables.TemplateColumn(
        template_name="bookings/cells/machines.html", verbose_name=_("Machines"), orderable=False
    )
    fruit_kg = tables.TemplateColumn(
        template_name="bookings/cells/fruit.html",
        verbose_name=_("Fruit"),
        order_by=("fruit_kg", "pk"),
        attrs={"td": {"class": "amount"}},
    )
    stage = tables.Column(verbose_name=_("Stage"), order_by=("stage", "out_on"))

    class Meta:
        order_by = "out_on"

    def render_stage(self, record: Booking, **_unused: Any) -> SafeString:
        word = {"word": record.get_stage_display(), "colour": STAGE_COLOURS[Stage(record.stage)]}
        return render_to_string("bookings/cells/stage.html", word)
