"""What pages say of a service that goes by use: what was done, what is left, and about when it falls due."""

from datetime import date

from django.utils.translation import gettext as _

from kitshare.rules.due_by_use import Forecast
from kitshare.upkeep.by_use import ByUse, Limit
from kitshare.upkeep.use_limits import amount_in_words
from kitshare.upkeep.words import day_with_year


def sentences(by_use: ByUse) -> list[str]:
    """How each measure stands, a few sentences each."""
    return [_in_words(limit, by_use.since) for limit in by_use.limits]


def nearest(by_use: ByUse) -> str:
    """How the measure stands that matters first, for lists."""
    return _in_words(by_use.nearest, by_use.since)


def _in_words(limit: Limit, since: date | None) -> str:
    return f"{_done(limit, since)} {_left_and_forecast(limit)}"


def _left_and_forecast(limit: Limit) -> str:
    if limit.is_reached:
        return _("It is due by that.")
    left = _("%(left)s left.") % {"left": amount_in_words(limit.measure, limit.left)}
    return f"{left} {forecast_in_words(limit.forecast)}"


def forecast_in_words(found: Forecast | None) -> str:
    """Such as "Falls due about Thu 14 Oct 2027 (between 2 Oct 2027 and 29 Oct 2027, nine in ten)."."""
    if found is None:
        return _("Too few outings yet to say when.")
    if found.about is None:
        if found.early is None:
            return _("Not within the seasons that are planned.")
        words = {"early": day_with_year(found.early)}
        return _("Not before %(early)s, nineteen in twenty; expected after the seasons that are planned.") % words
    words = {"about": day_with_year(found.about), "early": day_with_year(found.early or found.about)}
    if found.late is None:
        return _("Falls due about %(about)s (not before %(early)s, nineteen in twenty).") % words
    words["late"] = day_with_year(found.late)
    return _("Falls due about %(about)s (between %(early)s and %(late)s, nine in ten).") % words


def _done(limit: Limit, since: date | None) -> str:
    words = {
        "used": amount_in_words(limit.measure, limit.used.amount),
        "every": amount_in_words(limit.measure, limit.every),
        "estimated": amount_in_words(limit.measure, limit.used.estimated),
        "day": day_with_year(since) if since else "",
    }
    said = _("%(used)s of %(every)s since %(day)s") if since else _("%(used)s of %(every)s, all that is known")
    if limit.used.estimated:
        said += _(", of which about %(estimated)s are estimated")
    return said % words + "."
