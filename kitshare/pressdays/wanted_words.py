"""What a village wants of its day in words, and what of it cannot be."""

from collections.abc import Mapping

from django.utils.translation import gettext as _

from kitshare.pressdays.models import LEAST_YIELD, MOST_AT_HAND, MOST_SORTED_OUT, MOST_YIELD, ContainerKind, UseChoice
from kitshare.pressdays.refusals import (
    KindMayNotHold,
    KindRetired,
    KindTwice,
    SharesNotAHundred,
    SortingNotSensible,
    TooManyAtHand,
    YieldNotBelieved,
)
from kitshare.pressdays.wanted import Wanted
from kitshare.rules.containers import Use, refusals
from kitshare.rules.heat_verdict import Recommendation

Shares = Mapping[tuple[Use, ContainerKind], int]


def check_wanted(wanted: Wanted, *, before: Wanted | None, heat: Recommendation) -> None:
    """Raise PlanRefused unless this can be kept. What was kept `before` may stay, a retired kind too."""
    its_yield = wanted.yield_expected
    if its_yield is not None and not (its_yield.is_finite() and LEAST_YIELD <= its_yield <= MOST_YIELD):
        raise YieldNotBelieved
    if not 0 <= wanted.sorted_out_percent <= MOST_SORTED_OUT:
        raise SortingNotSensible
    if wanted.remainder or any(part.percent <= 0 for part in wanted.parts):
        raise SharesNotAHundred(100 - wanted.remainder)
    if any(not 0 <= number <= MOST_AT_HAND for number in wanted.at_hand.values()):
        raise TooManyAtHand
    had = {part.kind for part in before.parts} if before else set()
    seen = set()
    for part in wanted.parts:
        if part.kind.retired_on and part.kind not in had:
            raise KindRetired(part.kind)
        if (part.use, part.kind) in seen:
            raise KindTwice(part.kind)
        seen.add((part.use, part.kind))
        reasons = refusals(part.kind.as_rule, part.use, heat_c=heat.target_c)
        if reasons:
            raise KindMayNotHold(part, reasons)


def in_words(wanted: Wanted) -> str:
    """A plan in a few words: "0.55 L/kg; 60 % heated, in 0.75 L bottle"."""
    return _joined([*_words_of_facts(wanted), *_words_of_shares(_shares(wanted)), *_words_of_own(wanted.at_hand)])


def differences(now: Wanted, other: Wanted) -> str:
    """What the one has otherwise than the other, as the one says it."""
    facts = [words for words in _words_of_facts(now, all_of_them=True) if words not in _words_of_facts(other, True)]
    ours, theirs = _shares(now), _shares(other)
    shares = {key: ours.get(key, 0) for key in {**ours, **theirs} if ours.get(key) != theirs.get(key)}
    own = {
        kind: now.at_hand.get(kind, 0)
        for kind in {**now.at_hand, **other.at_hand}
        if now.at_hand.get(kind, 0) != other.at_hand.get(kind, 0)
    }
    return _joined([*facts, *_words_of_shares(shares), *_words_of_own(own)])


def _shares(wanted: Wanted) -> dict[tuple[Use, ContainerKind], int]:
    return {(part.use, part.kind): part.percent for part in wanted.parts}


def _joined(words: list[str]) -> str:
    return "; ".join(words)


def _words_of_facts(wanted: Wanted, all_of_them: bool = False) -> list[str]:
    words = []
    if wanted.yield_expected is not None:
        words.append(_("%(yield)s L/kg") % {"yield": f"{wanted.yield_expected.normalize():f}"})
    elif all_of_them:
        words.append(_("the yield as forecast"))
    if wanted.fruit_word or all_of_them:
        words.append(wanted.fruit_word or _("no kind of fruit"))
    if wanted.sorted_out_percent or all_of_them:
        words.append(_("%(percent)s %% sorted out") % {"percent": wanted.sorted_out_percent})
    return words


def _words_of_shares(shares: Shares) -> list[str]:
    words = []
    for (use, kind), percent in shares.items():
        text = _("%(percent)s %% %(use)s, in %(kind)s") if percent else _("none %(use)s, in %(kind)s")
        words.append(text % {"percent": percent, "use": UseChoice(use).label, "kind": kind})
    return words


def _words_of_own(at_hand: Mapping[ContainerKind, int]) -> list[str]:
    text = _("%(number)s at hand of %(kind)s")
    return [text % {"number": number, "kind": kind} for kind, number in at_hand.items()]
