"""Sheets that came from phones, as a table."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _


class SentSheetTable(tables.Table):
    """One row a sheet; the moment leads to its page."""

    made_at = tables.TemplateColumn(template_name="checks/cells/signed.html", verbose_name=_("Signed"))
    kind = tables.Column(verbose_name=_("Check"), accessor="get_kind_display")
    village = tables.Column(verbose_name=_("Village"), accessor="booking__village__name")
    by = tables.Column(verbose_name=_("Sent by"), accessor="by__name")
    state = tables.TemplateColumn(template_name="checks/cells/became.html", verbose_name=_("What became of it"))

    class Meta:
        orderable = False
