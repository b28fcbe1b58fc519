"""The season in figures: for each village and each kit, beside the season before; and the same as a file."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from kitshare.bookings.models import Season
from kitshare.people.models import Member
from kitshare.pressdays import season_copy
from kitshare.pressdays.season_copy import use_word
from kitshare.pressdays.season_figures import Figures, SeasonFigures, figures_of, outings_of
from kitshare.rules.sizing_terms import YIELD_EXPECTED
from kitshare.web.access import PageRequest
from kitshare.web.season.tables import FiguresTable
from kitshare.web.season.views import asked_season
from kitshare.works import actions as works
from kitshare.works.models import Kind

LONGEST_KEY = 18
# So many outings are added up while the browser waits; more make a long work.
AT_ONCE = 500


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
    if season is not None and request.user.coordinates and outings_of(season).count() > AT_ONCE:
        return _as_work(request, season)
    if season is None:
        data = season_copy.as_csv(None)
    else:
        shown = _shown(season, seasons, request.user)
        data = season_copy.as_csv(shown.now, shown.villages)
    answer = HttpResponse(data, content_type=season_copy.CONTENT_TYPE)
    answer["Content-Disposition"] = f'attachment; filename="{season_copy.file_name(season)}"'
    return answer


def _as_work(request: PageRequest, season: Season) -> HttpResponse:
    """So many outings take a while to add up: that is done beside the pages, and the file fetched once it is there."""
    title = _("The season in figures: %(season)s") % {"season": season.name}
    about, keys = f"{season.pk}:{request.user.pk}", {"season": season.pk}
    work = works.ask(kind=Kind.FIGURES, about=about, keys=keys, title=title, by=request.user, at=timezone.now())
    return redirect("works:show", key=work.key)


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
