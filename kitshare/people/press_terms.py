"""What a scheme settles about its press days: weights, fruit, sanitiser, electricity, pomace, and the hold."""

from datetime import datetime
from decimal import Decimal
from typing import TypedDict, Unpack

from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.changes import change, in_words
from kitshare.people.models import Member, Scheme
from kitshare.people.refusals import PeopleRefused


class PressTermsFacts(TypedDict, total=False):
    """What may be settled, by the names of the scheme's fields."""

    bushel_kg: Decimal | None
    small_tree_kg: Decimal
    large_tree_kg: Decimal
    fruit_words: str
    kwh_price: Decimal | None
    currency: str
    sanitiser: str
    sanitiser_percent: Decimal | None
    pomace_to: str
    breakage_percent: Decimal
    heat_target_c: Decimal
    heat_hold_minutes: Decimal
    heat_source: str


class StrengthMissing(PeopleRefused):
    """A sanitiser without its strength: nobody could work out how much to take."""

    field = "sanitiser_percent"

    def __init__(self) -> None:
        super().__init__(_("Say how strong it is, by its label; without that nobody knows how much to take."))


class SourceMissing(PeopleRefused):
    """A hold that nobody recommends."""

    field = "heat_source"

    def __init__(self) -> None:
        super().__init__(_("Say who recommends this hold: a temperature and minutes without a source are a guess."))


@deed
def change_press_terms(
    *, scheme: Scheme, by: Member, at: datetime, seen: int | None = None, **facts: Unpack[PressTermsFacts]
) -> Scheme:
    """Change them for plans and batches to come; what is not told stays. Recorded batches keep what held for them."""
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    changes = change(scheme, **facts)
    if not changes:
        return scheme
    logbook.check_unchanged(scheme, seen=seen, by_deeds=["press_terms_changed"])
    _check(scheme)
    scheme.save(update_fields=list(changes))
    text = _("Changed the scheme: %(changes)s.") % {"changes": in_words(scheme, changes)}
    logbook.write(deed="press_terms_changed", text=text, about=[scheme], by=by, at=at)
    return scheme


def _check(scheme: Scheme) -> None:
    if scheme.sanitiser and scheme.sanitiser_percent is None:
        raise StrengthMissing
    if not scheme.heat_source.strip():
        raise SourceMissing
