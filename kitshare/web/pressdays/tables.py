"""Lists of containers."""

from decimal import Decimal

import django_tables2 as tables
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.pressdays.models import ContainerKind


class ContainerKindTable(tables.Table):
    caption = lazy("Kinds of container, in the order in which villages see them")

    name = tables.Column(linkify=("pressdays:kind_change", {"pk": tables.A("pk")}))
    litres = tables.Column(verbose_name=lazy("Litres"), attrs={"td": {"class": "number"}})
    fill_fraction = tables.Column(verbose_name=lazy("Filled"))
    reused_glass = tables.Column(verbose_name=lazy("Re-used glass"))
    usual_parts = tables.Column(verbose_name=lazy("Parts in the usual mix"), attrs={"td": {"class": "number"}})
    retired_on = tables.Column(verbose_name=lazy("Standing"), empty_values=())

    class Meta:
        model = ContainerKind
        fields = ["name", "litres", "fill_fraction", "reused_glass", "usual_parts", "retired_on"]
        order_by = ("retired_on", "position")

    def render_litres(self, value: Decimal) -> str:
        return f"{value.normalize():f}"

    def render_fill_fraction(self, value: Decimal) -> str:
        return _("%(percent)s in 100") % {"percent": f"{(value * 100).normalize():f}"}

    def render_reused_glass(self, value: bool) -> str:
        return _("yes, five in a hundred more") if value else _("no")

    def render_retired_on(self, value: object) -> str:
        return _("retired") if value else _("in use")
