"""What something weighs, and how that stands to the guide values for lifting, in words."""

from dataclasses import dataclass
from typing import Final

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.rules.lifting import FILTER, Height, Lift, Load, Within, for_two

ONE: Final = FILTER[Height.ELBOW_TO_KNUCKLE]
TWO: Final = for_two(ONE)
FLOOR: Final = FILTER[Height.FLOOR]
_FIGURES: Final = {
    "men": ONE.men_kg,
    "women": ONE.women_kg,
    "two_men": TWO.men_kg,
    "two_women": TWO.women_kg,
    "floor_men": FLOOR.men_kg,
    "floor_women": FLOOR.women_kg,
}
_WORDS: Final = {
    Lift(one=Within.ALL, two=Within.ALL): gettext_lazy("within the guide value for one person"),
    Lift(one=Within.MEN_ONLY, two=Within.ALL): gettext_lazy(
        "over the guide value for a woman alone (%(women)d kg), within that for a man (%(men)d kg)"
    ),
    Lift(one=Within.MEN_ONLY, two=Within.MEN_ONLY): gettext_lazy(
        "over the guide value for a woman alone (%(women)d kg) and for two (%(two_women)d kg), within those for men"
        " (%(men)d kg, two %(two_men)d kg)"
    ),
    Lift(one=Within.NONE, two=Within.MEN_ONLY): gettext_lazy(
        "over the guide value for one person (%(men)d kg men, %(women)d kg women) and for two women (%(two_women)d kg),"
        " within that for two men (%(two_men)d kg)"
    ),
    Lift(one=Within.NONE, two=Within.NONE): gettext_lazy(
        "over the guide value for two people too (%(two_men)d kg men, %(two_women)d kg women)"
    ),
}
_ADVICE: Final = {
    Within.ALL: gettext_lazy("two together"),
    Within.MEN_ONLY: gettext_lazy("two together, or more"),
    Within.NONE: gettext_lazy("more people, a trolley or a hoist"),
}
# Where something in it was never weighed, nothing is said to be within a guide value.
_WORDS_OF_SOME: Final = {
    Within.ALL: gettext_lazy("some of it was never weighed"),
    Within.MEN_ONLY: gettext_lazy(
        "over the guide value for a woman alone (%(women)d kg) already, and some of it was never weighed"
    ),
    Within.NONE: gettext_lazy(
        "over the guide value for one person (%(men)d kg men, %(women)d kg women) already, and some of it was never"
        " weighed"
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """A weight as pages show it: "31 kg", what to do where it is over the guide for one, and how it stands to it."""

    kg: str
    advice: str  # empty within the guide for one person
    guide: str
    tone: str  # quiet within the guide for one person, care over it, stop over it for two

    @property
    def is_over(self) -> bool:
        return bool(self.advice)


def weight_in_words(load: Load | None) -> Weight | None:
    """How a load is told; None where nobody weighed anything of it."""
    if load is None:
        return None
    number = number_format(f"{round(load.kg, 1).normalize():f}")
    kg = (_("%(number)s kg") if load.is_all else _("at least %(number)s kg")) % {"number": number}
    found = load.lift
    is_over_for_two = found.two is Within.NONE
    words = _WORDS[found] if load.is_all or is_over_for_two else _WORDS_OF_SOME[found.one]
    tone = "quiet" if found.one is Within.ALL else "stop" if is_over_for_two else "care"
    advice = "" if found.one is Within.ALL else str(_ADVICE[found.two])
    return Weight(kg=kg, advice=advice, guide=str(words) % _FIGURES, tone=tone)


def guide_in_words() -> str:
    """What the guide values hold for and where they come from: once on each page that names them."""
    words = _(
        "Guide values, no limits: one person %(men)d kg men, %(women)d kg women; two together %(two_men)d and"
        " %(two_women)d kg, for a load held close at elbow to knuckle height; from the floor or above the shoulder"
        " %(floor_men)d and %(floor_women)d kg for one. Quoted from the lifting filter of the British Health and Safety"
        " Executive: check the edition in force. Local rules come first."
    )
    return words % _FIGURES
