"""The season in figures: for each village and each kit, beside the season before; and the same as a file."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Season
from kitshare.bringing.cells import neutral
from kitshare.people.models import Member
from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.pressdays.season_figures import Figures, SeasonFigures, figures_of
from kitshare.rules.sizing_terms import YIELD_EXPECTED
from kitshare.web.access import PageRequest
from kitshare.web.season.tables import FiguresTable
from kitshare.web.season.views import asked_season

LONGEST_KEY = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """The figures of a season as one member sees them, and those of the season before, if there was one.

    Who runs the scheme sees every village; a borrower sees their own, and what all come to.
    """

    now: SeasonFigures
    before: SeasonFigures | None
    villages: list[Figures]
    sees_all: bool

    @property
    def expected_litres(self) -> Decimal:
        """What is to be expected of the outings that nobody has written down."""
        return self.now.all.asked_kg_unrecorded * YIELD_EXPECTED

    @property
    def uses(self) -> list[tuple[str, Decimal]]:
        return [(use_word(use), litres) for use, litres in self.now.all.litres_by_use.items() if litres]


def use_word(use: str) -> str:
    return str(PressDayRecord._meta.get_field(f"litres_{use}").verbose_name)  # type: ignore[union-attr]


@require_safe
def figures(request: PageRequest) -> HttpResponse:
    """What a season came to: outings, fruit, juice, hands and waste."""
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    season = _asked(request, seasons)
    context: dict[str, Any] = {"season": season, "shown": None}
    if season is not None:
        shown = _shown(season, seasons, request.user)
        place, here = seasons.index(season), reverse("season:figures")
        context |= {
            "shown": shown,
            "villages": _table(request, shown.villages, shown.before, "village"),
            "kits": _table(request, shown.now.kits, shown.before, "kit"),
            "earlier": [(one.name, f"{here}?season={one.pk}") for one in seasons[:place][-1:]],
            "later": [(one.name, f"{here}?season={one.pk}") for one in seasons[place + 1 :][:1]],
        }
    return render(request, "season/figures.html", context)


@require_safe
def figures_copy(request: PageRequest) -> HttpResponse:
    """The same as a file of values separated by commas, in kilograms and litres."""
    seasons = list(Season.objects.order_by("opens_on", "pk"))
    season = _asked(request, seasons)
    name = slugify(season.name) if season else ""
    answer = HttpResponse("\ufeff", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name or "season"}-figures.csv"'
    writer = csv.writer(answer)
    writer.writerow(_headings())
    if season is not None:
        shown = _shown(season, seasons, request.user)
        groups = ((_("village"), shown.villages), (_("kit"), shown.now.kits), (_("all"), [shown.now.all]))
        writer.writerows(_row(season, of_what, one) for of_what, rows in groups for one in rows)
    return answer


def _asked(request: HttpRequest, seasons: Sequence[Season]) -> Season | None:
    asked = request.GET.get("season", "")
    key = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) <= LONGEST_KEY else 0
    return asked_season(key, seasons, timezone.localdate())


def _shown(season: Season, seasons: Sequence[Season], member: Member) -> Shown:
    before = seasons[: seasons.index(season)][-1:]
    now, *earlier = figures_of([season, *before])
    sees_all = member.coordinates or member.maintains
    own = set() if sees_all else set(member.villages.values_list("pk", flat=True))
    villages = [one for one in now.villages if sees_all or one.key in own]
    return Shown(now=now, before=earlier[0] if earlier else None, villages=villages, sees_all=sees_all)


def _table(request: PageRequest, rows: Iterable[Figures], before: SeasonFigures | None, what: str) -> FiguresTable:
    find = {"village": before.of_village, "kit": before.of_kit}[what] if before else lambda _key: None
    table = FiguresTable(
        [{"now": one, "before": find(one.key), "name": one.name} for one in rows],
        system=request.our_scheme.units,
        has_before=before is not None,
        of_what=_("Village") if what == "village" else _("Kit"),
        prefix=f"{what}-",
    )
    table.order_by = request.GET.get(table.prefixed_order_by_field, "name")
    return table


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
