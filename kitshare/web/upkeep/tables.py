"""The lists of the workbench."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _


class WorkTable(tables.Table):
    """One row a fault, or a service or test that is due, in the order of what matters: nobody sorts that away."""

    what = tables.TemplateColumn(
        template_name="upkeep/cells/work.html", verbose_name=_("What waits"), attrs={"td": {"class": "wide"}}
    )
    why = tables.TemplateColumn(template_name="upkeep/cells/why.html", verbose_name=_("Why it stands here"))
    hands = tables.TemplateColumn(template_name="upkeep/cells/hands.html", verbose_name=_("In whose hands"))
    since = tables.TemplateColumn(template_name="upkeep/cells/since.html", verbose_name=_("Reported, or due"))

    class Meta:
        orderable = False


class ReportedTable(tables.Table):
    """One row a fault that the reader reported, the latest first."""

    what = tables.TemplateColumn(
        template_name="upkeep/cells/work.html", verbose_name=_("What you reported"), attrs={"td": {"class": "wide"}}
    )
    became = tables.TemplateColumn(template_name="upkeep/cells/became.html", verbose_name=_("What became of it"))
    since = tables.TemplateColumn(template_name="upkeep/cells/when.html", verbose_name=_("Reported"))

    class Meta:
        orderable = False


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
