"""A season in figures as a file of values separated by commas, in kilograms and litres."""

import csv
import io

from django.utils.text import slugify
from django.utils.translation import gettext as _

from kitshare.bookings.models import Season
from kitshare.bringing.cells import neutral
from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.pressdays.season_figures import Figures, SeasonFigures

CONTENT_TYPE = "text/csv; charset=utf-8"


def as_csv(figures: SeasonFigures | None, villages: list[Figures] | None = None) -> bytes:
    """Its villages (or those given), its kits, and all of it; the headings alone where there is no season.

    With the mark of UTF-8 in front: without it some spreadsheets read accents wrongly.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(_headings())
    if figures is not None:
        shown = figures.villages if villages is None else villages
        groups = ((_("village"), shown), (_("kit"), figures.kits), (_("all"), [figures.all]))
        writer.writerows(_row(figures.season, of_what, one) for of_what, rows in groups for one in rows)
    return text.getvalue().encode("utf-8-sig")


def file_name(season: Season | None) -> str:
    return f"{(slugify(season.name) if season else '') or 'season'}-figures.csv"


def use_word(use: str) -> str:
    return str(PressDayRecord._meta.get_field(f"litres_{use}").verbose_name)  # type: ignore[union-attr]


def _headings() -> list[str]:
    return [
        _("season"),
        _("of what"),
        _("name"),
        _("outings"),
        _("outings written down"),
        _("days out"),
        _("days written down"),
        _("fruit pressed, kg"),
        _("sorted out, kg"),
        *[_("%(use)s, litres") % {"use": use_word(use)} for use in USES],
        _("all juice, litres"),
        _("litres from a kilogram"),
        _("hours of all helpers"),
    ]


def _row(season: Season, of_what: str, one: Figures) -> list[str]:
    amounts = [
        one.pressed_kg,
        one.waste_kg,
        *one.litres_by_use.values(),
        one.litres,
        one.litres_per_kg,
        one.helper_hours,
    ]
    return [
        neutral(season.name),
        of_what,
        neutral(one.name),
        *[str(number) for number in (one.outings, one.recorded, one.days_out, one.days_recorded)],
        *["" if amount is None else f"{round(amount, 3).normalize():f}" for amount in amounts],
    ]
