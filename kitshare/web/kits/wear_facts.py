"""What a part's page says of how long it may last: sentences, or why nothing is said."""

from math import ceil, floor

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.checks.wear import Wear, is_reckoned, wear_of
from kitshare.kits.models import Part
from kitshare.rules.checklists import PartKind
from kitshare.rules.wear import ENOUGH_ENDED, Remaining


def wear_words(part: Part) -> list[str]:
    """What to expect of a part, in sentences; why not, where that is so. One query."""
    if not is_reckoned(part):
        if part.kind == PartKind.CONSUMABLE:
            return [_("It is used up, so no outings are reckoned.")]
        return [_("It travels in a number, and nobody writes down which of them was replaced: nothing is reckoned.")]
    wear = wear_of(part)
    if wear.age is None:
        return [_("By the checks none is in use and whole now, so nothing is reckoned.")]
    if wear.remaining is None:
        return [_too_few(wear.ended), _so_far(wear)]
    return [_expected(wear.remaining), f"{_rests_on(wear.remaining)} {_so_far(wear)}"]


def _so_far(wear: Wear) -> str:
    age = wear.age or 0
    text = ngettext(
        "This one has been on %(age)d outing since it was first seen or replaced.",
        "This one has been on %(age)d outings since it was first seen or replaced.",
        age,
    )
    return text % {"age": age}


def _expected(found: Remaining) -> str:
    words = {"low": floor(found.low), "high": ceil(found.high), "expected": round(found.expected)}
    if words["expected"] == 0:
        return _("Expect between %(low)d and %(high)d more outings, nine in ten; half do not last one more.") % words
    return _("Expect between %(low)d and %(high)d more outings, nine in ten; half last over %(expected)d.") % words


def _rests_on(found: Remaining) -> str:
    text = ngettext(
        "From %(lives)d life of such parts, of which %(ended)d ended.",
        "From %(lives)d lives of such parts, of which %(ended)d ended.",
        found.lives,
    )
    return text % {"lives": found.lives, "ended": found.ended}


def _too_few(ended: int) -> str:
    text = ngettext(
        "How long it will last is not said: %(ended)d such part has ended so far, and it takes %(enough)d.",
        "How long it will last is not said: %(ended)d such parts have ended so far, and it takes %(enough)d.",
        ended,
    )
    return text % {"ended": ended, "enough": ENOUGH_ENDED}
