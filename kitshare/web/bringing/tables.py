"""The rows of a file beside what would become of them."""

from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from kitshare.bringing.judging import Judgement
from kitshare.bringing.meaning import Standing, Verdict

STANDINGS = {
    Standing.MAKE: (_("would be made"), "done"),
    Standing.CLASH: (_("clashes"), "stop"),
    Standing.UNCLEAR: (_("not understood"), "stop"),
    Standing.HERE: (_("here already"), "quiet"),
    Standing.ASIDE: (_("left aside"), "quiet"),
}


class VerdictTable(tables.Table):
    """One line a row of the file, those in the way first. It asks the database for nothing."""

    row = tables.Column(verbose_name=_("Row or line"), empty_values=(), orderable=False)
    standing = tables.Column(verbose_name=_("Outcome"), empty_values=(), orderable=False)
    whose = tables.TemplateColumn(
        template_name="bringing/cells/whose.html", verbose_name=_("Whose"), empty_values=(), orderable=False
    )
    days = tables.TemplateColumn(
        template_name="bringing/cells/days.html", verbose_name=_("Days"), empty_values=(), orderable=False
    )
    machines = tables.TemplateColumn(
        template_name="bringing/cells/machines.html", verbose_name=_("Machines"), empty_values=(), orderable=False
    )
    words = tables.Column(verbose_name=_("Why"), empty_values=(), orderable=False)

    def __init__(self, *args: Any, judged: Judgement, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[no-untyped-call]
        self.judged = judged

    def render_row(self, record: Verdict) -> int:
        return record.row.place

    def render_standing(self, record: Verdict) -> SafeString:
        word, colour = STANDINGS[record.standing]
        return render_to_string("bookings/cells/stage.html", {"word": word, "colour": colour})

    def render_words(self, record: Verdict) -> str:
        if not record.words:
            return ""
        nearest = self.judged.nearest(record) if record.standing == Standing.CLASH else ""
        shown = {"words": record.words, "nearest": nearest, "booking": record.booking}
        return render_to_string("bringing/cells/words.html", shown)
