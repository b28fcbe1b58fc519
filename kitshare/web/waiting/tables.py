"""The waiting list as a table. It has one order, and that is what it shows."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _


class WaitingTable(tables.Table):
    """One row an entry; the days lead to the booking's page."""

    wanted = tables.TemplateColumn(template_name="waiting/cells/days.html", verbose_name=_("Waits for"))
    village = tables.Column(verbose_name=_("Village"), accessor="entry__booking__village__name")
    machines = tables.TemplateColumn(
        template_name="waiting/cells/machines.html", accessor="entry", verbose_name=_("Machines")
    )
    place = tables.Column(verbose_name=_("Place"))
    why_here = tables.Column(verbose_name=_("Why there"))
    standing = tables.TemplateColumn(
        template_name="waiting/cells/standing.html", accessor="word", verbose_name=_("How it stands")
    )

    class Meta:
        orderable = False
