"""Where each number of a plan comes from, in words that people read."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.kits.models import MachineKind
from kitshare.rules.breakage import PRIOR_BOTTLES, Breakage
from kitshare.rules.containers import Use
from kitshare.rules.sizing_terms import BREAKAGE_ALLOWANCE


def entered() -> str:
    return _("entered for this booking")


def row() -> str:
    return _("in the scheme’s settings, its kinds of container or its machines")


def our_choice() -> str:
    return _("our own choice, no source")


def common_practice() -> str:
    return _("common practice, no source")


def definition() -> str:
    return _("by definition")


def mass_balance() -> str:
    return _("computed: what is not juice is left over")


def belief(days: int) -> str:
    """The published range, and the days that taught it."""
    published = _("the published range of 0.45 to 0.70 L/kg, trusted like two days of our own")
    if not days:
        return published
    words = ngettext(
        "%(published)s, and %(days)s recorded press day", "%(published)s, and %(days)s recorded press days", days
    )
    return words % {"published": published, "days": days}


def student() -> str:
    return _(
        "nine days in ten by Student’s t, as yield varies from day to day (Murphy, Conjugate Bayesian analysis of the"
        " Gaussian distribution, 2007), cut to what a press can give"
    )


def fill(use: Use) -> str:
    if use is Use.HEATED:
        return _("to the shoulder: juice takes 2.5 in 100 more room at 75 °C, and some is left over")
    if use is Use.FROZEN:
        return _("juice takes 9 in 100 more room when it is frozen")
    return common_practice()


def growth(use: Use) -> str:
    """By what the room that juice takes was computed."""
    if use is Use.FROZEN:
        return _("computed: water 998.2 and ice 917 kg/m³; over 1 it would burst")
    return _(
        "computed: water by IAPWS-IF97, dissolved sugar by Choi and Okos, less what glass itself grows; over 1 it would"
        " run over"
    )


def least(proved: bool) -> str:
    if proved:
        return _("the least number to borrow or buy that holds the juice at the most, by an exact search")
    return _("holds the juice at the most; the search was cut short, so one or two fewer might do")


def spares() -> str:
    return _("filled, and as many over of re-used glass as its allowance says, rounded up")


def breakage(found: Breakage) -> str:
    """By what the allowance for broken bottles was reckoned."""
    usual = found.usual == BREAKAGE_ALLOWANCE
    own = _("common practice, no source") if usual else _("the scheme’s own figure")
    if not found.days:
        return own
    words = {"usual": own, "worth": PRIOR_BOTTLES, "brought": found.brought, "broken": found.broken}
    return (
        _("beta distribution: %(usual)s, worth %(worth)s bottles, and %(broken)s of %(brought)s on recorded days")
        % words
    )


def sugar() -> str:
    return _("computed from a published sucrose table, for juice of 12 degrees Brix at 20 °C")


def lifting() -> str:
    return _("the scheme’s; 15 kg is under the British lifting filter as quoted elsewhere; check the edition in force")


def ascorbic() -> str:
    return _("500 mg in a litre (A. Lea); too little browns the juice more than none")


def teaspoon() -> str:
    return _("National Center for Home Food Preservation; common practice is one in 10 litres, which is less")


def contact() -> str:
    return _("California Health and Safety Code 114099.6; check it against the rules of the place")


def dilution() -> str:
    return _("by definition: strength times volume stays the same, and a per cent is 10,000 parts in a million")


def usual_load() -> str:
    return _("a usual load, our own choice: the machine’s page has no figure")


def hours(kind: str, share: float) -> str:
    """By what the hours of a machine were reckoned."""
    if kind == MachineKind.PASTEURISER:
        words = _(
            "hours from the heat that juice and bath take up, of which the heater brings in %(percent)s in 100"
            " (100 litres and 2.5 kW to 80 to 83 °C in about four hours, as seen by a maker of juice)"
        )
        return words % {"percent": round(share * 100)}
    return _("hours from the fruit and what the machine does in an hour, at the power of its plate throughout")
