"""The lists of the workbench."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _


class FaultTable(tables.Table):
    """One row a fault. It comes sorted by what is most needed; a reader may sort it otherwise."""

    fault = tables.TemplateColumn(
        template_name="upkeep/cells/fault.html",
        verbose_name=_("Fault"),
        order_by=("machine__name", "pk"),
        attrs={"td": {"class": "wide"}},
    )
    need = tables.TemplateColumn(template_name="upkeep/cells/need.html", verbose_name=_("Needed"), orderable=False)
    hands = tables.TemplateColumn(
        template_name="upkeep/cells/hands.html", verbose_name=_("In whose hands"), order_by=("taken_by__name", "pk")
    )
    reported_at = tables.TemplateColumn(
        template_name="upkeep/cells/reported.html", verbose_name=_("Reported"), order_by=("reported_at", "pk")
    )


class AtRiskTable(tables.Table):
    """One row a booking that cannot go out as things stand."""

    booking = tables.TemplateColumn(
        template_name="upkeep/cells/booking.html",
        verbose_name=_("Booking"),
        order_by=("out_on", "pk"),
        attrs={"td": {"class": "wide"}},
    )
    stopped = tables.TemplateColumn(
        template_name="upkeep/cells/stopped.html", verbose_name=_("What stops it"), orderable=False
    )
    told = tables.TemplateColumn(template_name="upkeep/cells/told.html", verbose_name=_("Told"), orderable=False)
