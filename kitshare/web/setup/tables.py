"""The list of seasons."""

import django_tables2 as tables
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Season
from kitshare.web.templatetags.kitshare import day


class SeasonTable(tables.Table):
    """Every season there was or will be."""

    name = tables.Column(verbose_name=_("Season"), linkify=("setup:season_change", {"pk": tables.A("pk")}))
    opens_on = tables.Column(verbose_name=_("First day"))
    closes_on = tables.Column(verbose_name=_("Last day"))

    class Meta:
        order_by = "-opens_on"

    def render_opens_on(self, record: Season) -> str:
        return day(record.opens_on)

    def render_closes_on(self, record: Season) -> str:
        return day(record.closes_on)
