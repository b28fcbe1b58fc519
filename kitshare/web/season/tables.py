"""The list of closed days."""

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.bookings.closing import what_in_words
from kitshare.bookings.models import ClosedKind, ClosedSpell
from kitshare.web.templatetags.kitshare import day


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
