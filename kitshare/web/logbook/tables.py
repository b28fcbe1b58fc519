"""The logbook as a list."""

from typing import Any, Final

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from kitshare.logbook.models import Entry
from kitshare.web.templatetags.kitshare import moment

# Kinds of things that have a page, the page, and the word for it.
PAGES: Final = {
    "kits.kit": ("kits:show", _("kit")),
    "kits.machine": ("kits:machine", _("machine")),
    "kits.part": ("kits:part", _("part")),
    "bookings.booking": ("bookings:show", _("booking")),
    "upkeep.fault": ("upkeep:fault", _("fault")),
    "upkeep.careplan": ("upkeep:plan", _("service or test")),
}
LINKS: Final = 4


class Logbook(tables.Table):
    """Lines of the logbook. Only the moment can be ordered by: in the other columns an order says nothing."""

    at = tables.Column(verbose_name=_("When"), order_by=("at", "pk"))
    by_name = tables.Column(verbose_name=_("Who"), orderable=False)
    text = tables.Column(verbose_name=_("What"), orderable=False)
    about = tables.Column(verbose_name=_("Pages"), orderable=False, accessor="mentions", empty_values=())

    caption = _("Newest first, unless you turn it round.")

    class Meta:
        model = Entry
        fields = ("at", "by_name", "text", "about")
        empty_text = _("No line fits. Take something out of the search.")

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_about(self, record: Entry) -> SafeString:
        """Links to the things that the line is about, as far as they have pages; a long list is cut."""
        links = [
            (reverse(PAGES[mention.kind][0], args=[mention.key]), PAGES[mention.kind][1])
            for mention in record.mentions.all()
            if mention.kind in PAGES
        ]
        return format_html("<span>{}</span>", format_html_join(" ", '<a href="{}">{}</a>', links[:LINKS]))
