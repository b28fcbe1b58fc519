"""The lists of closed days and of a season's figures."""

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.bookings.closing import what_in_words
from kitshare.bookings.models import ClosedKind, ClosedSpell
from kitshare.pressdays.season_figures import Figures
from kitshare.rules.units import UnitSystem
from kitshare.web.templatetags.kitshare import day, in_units


class ClosedSpellTable(tables.Table):
    """One row a spell. Whoever may open it again finds the way in the last column, by the kinds in `openable`."""

    openable: frozenset[str] = frozenset()
    first_day = tables.Column(verbose_name=gettext_lazy("Days"), order_by=("first_day", "pk"))
    kind = tables.Column(verbose_name=gettext_lazy("Why nothing goes out"))
    what = tables.Column(verbose_name=gettext_lazy("What is closed"), empty_values=(), orderable=False)
    deed = tables.Column(verbose_name=gettext_lazy("To do"), empty_values=(), orderable=False)

    class Meta:
        order_by = "first_day"

    def render_first_day(self, record: ClosedSpell) -> str:
        if record.first_day == record.last_day:
            return day(record.first_day)
        return _("%(first)s to %(last)s") % {"first": day(record.first_day), "last": day(record.last_day)}

    def render_kind(self, record: ClosedSpell) -> str:
        return f"{ClosedKind(record.kind).label}: {record.reason}"

    def render_what(self, record: ClosedSpell) -> str:
        return what_in_words(record, record.machines.all())

    def render_deed(self, record: ClosedSpell) -> SafeString | str:
        if record.kind not in self.openable:
            return ""
        return format_html('<a href="{}">{}</a>', reverse("season:open_again", args=[record.pk]), _("Open again"))


AMOUNT = {"td": {"class": "amount"}}


class FiguresTable(tables.Table):
    """One row a village or a kit: its figures of a season, and its juice of the season before where there was one."""

    name = tables.Column(order_by=("name",))
    outings = tables.Column(verbose_name=gettext_lazy("Outings"), accessor="now__outings", attrs=AMOUNT)
    recorded = tables.Column(verbose_name=gettext_lazy("Days"), accessor="now__days_recorded", attrs=AMOUNT)
    pressed_kg = tables.Column(verbose_name=gettext_lazy("Fruit"), accessor="now__pressed_kg", attrs=AMOUNT)
    litres = tables.Column(verbose_name=gettext_lazy("Juice"), accessor="now__litres", attrs=AMOUNT)
    litres_per_kg = tables.Column(
        verbose_name=gettext_lazy("Yield"),
        accessor="now__litres_per_kg",
        attrs=AMOUNT,
        empty_values=(),
        orderable=False,
    )
    helper_hours = tables.Column(verbose_name=gettext_lazy("Helper hours"), accessor="now__helper_hours", attrs=AMOUNT)
    waste_kg = tables.Column(verbose_name=gettext_lazy("Sorted out"), accessor="now__waste_kg", attrs=AMOUNT)
    before = tables.Column(verbose_name=gettext_lazy("Juice before"), attrs=AMOUNT, empty_values=(), orderable=False)

    def __init__(self, rows: Any, *, system: str, has_before: bool, of_what: str, prefix: str) -> None:
        self.system = UnitSystem(system)
        super().__init__(rows, prefix=prefix, exclude=() if has_before else ("before",))  # type: ignore[no-untyped-call]
        self.columns["name"].column.verbose_name = of_what

    def render_recorded(self, record: dict[str, Any]) -> str:
        now: Figures = record["now"]
        return _("%(recorded)d of %(out)d") % {"recorded": now.days_recorded, "out": now.days_out}

    def render_pressed_kg(self, value: Decimal) -> str:
        return in_units(self.system, kg=value)

    def render_litres(self, value: Decimal) -> str:
        return in_units(self.system, litres=value)

    def render_litres_per_kg(self, value: Decimal | None) -> str:
        return "–" if value is None else f"{value:.2f}"

    def render_helper_hours(self, value: Decimal) -> str:
        return f"{value:.0f}"

    def render_waste_kg(self, value: Decimal) -> str:
        return in_units(self.system, kg=value)

    def render_before(self, value: Figures | None) -> str:
        return "–" if value is None else in_units(self.system, litres=value.litres)
