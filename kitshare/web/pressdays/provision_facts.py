"""What to bring besides containers, in words and numbers that a person packs by."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from kitshare.people.models import Scheme
from kitshare.people.terms import SanitiserChoice
from kitshare.pressdays.provisions import Provisions
from kitshare.rules.sizing_terms import LIFTING_GUIDE_KG
from kitshare.rules.supplies import HOT_WATER_C, HOT_WATER_SECONDS, PomaceWay
from kitshare.web.money import money_in_words

WAYS = {
    PomaceWay.BACK_TO_ORCHARD: lazy("back under the trees, spread thinly"),
    PomaceWay.COMPOST: lazy("on a compost heap, mixed with something dry"),
    PomaceWay.ANIMAL_FEED: lazy("to somebody who keeps animals, on the same day and only where that is allowed"),
    PomaceWay.MUNICIPAL: lazy("to the municipal green waste"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvisionFacts:
    """Provisions with the sentences that go beside them."""

    found: Provisions
    sack_kg: Decimal
    pomace_to: str
    ways: list[str]
    sanitiser: str
    cost: str

    @property
    def sacks_are_heavy(self) -> bool:
        """Whether a full pomace sack is over the lifting guide for one person: lift it by two."""
        return self.sack_kg > LIFTING_GUIDE_KG

    @property
    def sacks(self) -> int:
        return self.found.pomace_most.sacks


def provision_facts(found: Provisions, scheme: Scheme) -> ProvisionFacts:
    return ProvisionFacts(
        found=found,
        sack_kg=scheme.pomace_sack_kg,
        pomace_to=scheme.pomace_to.strip(),
        ways=[str(WAYS[way]) for way in PomaceWay],
        sanitiser=_sanitiser(found, scheme),
        cost=_cost(found.cost, scheme.currency),
    )


def _sanitiser(found: Provisions, scheme: Scheme) -> str:
    dilution = found.dilution
    if dilution is None:
        words = _(
            "The scheme has not said which sanitiser it uses, nor how strong it is. By the label; or keep what juice"
            " touches under water of %(celsius)s °C for %(seconds)s seconds."
        )
        return words % {"celsius": HOT_WATER_C, "seconds": HOT_WATER_SECONDS}
    words = _(
        "%(ml)s ml of %(name)s (%(percent)s %%) in %(litres)s litres of water is %(ppm)s parts in a million:"
        " keep what juice touches wet with it for %(seconds)s seconds."
    )
    text = words % {
        "ml": number_format(dilution.concentrate_ml.quantize(Decimal("0.1")).normalize()),
        "name": SanitiserChoice(scheme.sanitiser).label,
        "percent": f"{scheme.sanitiser_percent or 0:g}",
        "litres": f"{dilution.litres.normalize():f}",
        "ppm": f"{dilution.ppm.normalize():f}",
        "seconds": dilution.seconds,
    }
    return " ".join([text, _("Rinse it off with drinking water.")] if dilution.rinse else [text])


def _cost(cost: Decimal | None, currency: str) -> str:
    return "" if cost is None else money_in_words(cost, currency)
