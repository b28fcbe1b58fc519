"""Lists of containers."""

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.people.models import Scheme
from kitshare.pressdays.models import ContainerKind
from kitshare.web.pressdays.kind_facts import may_hold


class ContainerKindTable(tables.Table):
    caption = lazy("Kinds of container, in the order in which villages see them")

    name = tables.Column(linkify=("pressdays:kind_change", {"pk": tables.A("pk")}))
    litres = tables.Column(verbose_name=lazy("Litres"), attrs={"td": {"class": "number"}})
    may_hold = tables.Column(verbose_name=lazy("May hold juice that is"), empty_values=(), orderable=False)
    lent = tables.Column(verbose_name=lazy("Lent"), attrs={"td": {"class": "number"}})
    usual_parts = tables.Column(verbose_name=lazy("Parts in the usual mix"), attrs={"td": {"class": "number"}})
    retired_on = tables.Column(verbose_name=lazy("Standing"), empty_values=())

    class Meta:
        model = ContainerKind
        fields = ["name", "litres", "may_hold", "lent", "usual_parts", "retired_on"]
        order_by = ("retired_on", "position")

    def __init__(self, *args: Any, scheme: Scheme, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[no-untyped-call]
        self.scheme = scheme

    def render_litres(self, value: Decimal) -> str:
        return f"{value.normalize():f}"

    def render_may_hold(self, record: ContainerKind) -> str:
        fits = [one.use for one in may_hold(record, self.scheme) if not one.reasons]
        return ", ".join(fits) or _("nothing: see why on its page")

    def render_retired_on(self, value: object) -> str:
        return _("retired") if value else _("in use")
