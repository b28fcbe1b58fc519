"""What came onto a shelf and left it."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _


class MovementTable(tables.Table):
    """One row a movement, the newest first."""

    at = tables.TemplateColumn(template_name="upkeep/cells/moved_at.html", verbose_name=_("When"), orderable=False)
    reason = tables.TemplateColumn(template_name="upkeep/cells/moved_why.html", verbose_name=_("Why"), orderable=False)
    depot = tables.Column(accessor="place__depot__name", verbose_name=_("Depot"), orderable=False)
    change = tables.TemplateColumn(
        "{{ record.signed_change }}",
        verbose_name=_("Came or went"),
        orderable=False,
        attrs={"td": {"class": "number"}},
    )
    balance = tables.Column(verbose_name=_("There then"), orderable=False, attrs={"td": {"class": "number"}})
