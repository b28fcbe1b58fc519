"""How each number of a plan was worked out: what went in, the steps, and where each comes from."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.utils import formats
from django.utils.translation import gettext as _

from kitshare.people.models import Scheme
from kitshare.people.terms import SanitiserChoice
from kitshare.pressdays.models import UseChoice
from kitshare.pressdays.planning import Ahead, ToBring
from kitshare.pressdays.provisions import HEATER_SHARE, Provisions
from kitshare.rules import student_t, supplies
from kitshare.rules.container_choice import Filling
from kitshare.rules.containers import FILL_TEMPERATURE_C, Use, grown_fill
from kitshare.rules.sizing_terms import CAP_ALLOWANCE, JUICE_KG_PER_LITRE
from kitshare.web.pressdays import sources


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A number that went into the reckoning, and where it comes from."""

    title: str
    amount: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A number that was worked out: how, and by what right. A formula is figures and signs, to follow by hand."""

    title: str
    amount: str
    formula: str
    source: str


def figure(amount: Decimal | float) -> str:
    """A number of the reckoning, to four decimals: enough to follow it by hand."""
    rounded = Decimal(str(amount)).quantize(Decimal("0.0001")).normalize()
    return formats.number_format(f"{rounded:f}", use_l10n=True, force_grouping=True)


def known_numbers(ahead: Ahead, provisions: Provisions, scheme: Scheme) -> list[Known]:
    """Each number that went in, once."""
    return [*_known_of_juice(ahead), *_known_of_containers(ahead), *_known_of_provisions(provisions, scheme)]


def steps_of(ahead: Ahead, provisions: Provisions, scheme: Scheme) -> list[Step]:
    """Each number that was worked out, in the order in which it was."""
    containers = [step for bring in ahead.to_bring for step in _steps_of_containers(ahead, bring)]
    return [*_steps_of_juice(ahead), *containers, *_steps_of_provisions(ahead, provisions, scheme)]


def _known_of_juice(ahead: Ahead) -> Iterator[Known]:
    belief = ahead.belief
    yield Known(title=_("fruit picked"), amount=f"{figure(ahead.fruit.picked_kg)} kg", source=sources.entered())
    yield Known(
        title=_("sorted out"), amount=figure(Decimal(ahead.wanted.sorted_out_percent) / 100), source=sources.entered()
    )
    own = ahead.wanted.yield_expected is not None
    yield Known(
        title=_("yield expected"),
        amount=f"{figure(belief.mean)} L/kg",
        source=sources.entered() if own else sources.belief(belief.days),
    )
    yield Known(
        title=_("scale of the next day’s Student t"),
        amount=f"{figure(belief.spread)} L/kg",
        source=sources.belief(belief.days),
    )
    yield Known(title=_("degrees of freedom"), amount=figure(belief.freedom), source=sources.belief(belief.days))


def _known_of_containers(ahead: Ahead) -> Iterator[Known]:
    for bring in ahead.to_bring:
        kind = bring.kind
        its = {"kind": kind.name}
        yield Known(
            title=_("%(kind)s, full to the brim") % its, amount=f"{figure(kind.litres)} L", source=sources.row()
        )
        for filling in bring.fillings:
            title = _("%(kind)s, how full it is filled: %(use)s") % (its | {"use": UseChoice(filling.use).label})
            own = kind.fill_fraction == filling.kind.fill_for(filling.use)
            source = sources.row() if own else sources.fill(filling.use)
            yield Known(title=title, amount=figure(filling.kind.fill_for(filling.use)), source=source)
        yield Known(title=_("%(kind)s, empty") % its, amount=f"{figure(kind.tare_kg)} kg", source=sources.row())
    if any(bring.spares for bring in ahead.to_bring):
        yield Known(
            title=_("re-used glass over each one filled"),
            amount=figure(ahead.breakage.over),
            source=sources.breakage(ahead.breakage),
        )
    if any(bring.caps for bring in ahead.to_bring):
        yield Known(title=_("caps over each one"), amount=figure(CAP_ALLOWANCE), source=sources.common_practice())
    if ahead.litres.get(Use.HEATED):
        yield Known(title=_("heated to"), amount=f"{figure(ahead.heat.target_c)} °C", source=ahead.heat.source)
        yield Known(title=_("filled at"), amount=f"{figure(FILL_TEMPERATURE_C)} °C", source=sources.our_choice())


def _known_of_provisions(provisions: Provisions, scheme: Scheme) -> Iterator[Known]:
    yield Known(
        title=_("what a litre of juice weighs"), amount=f"{figure(JUICE_KG_PER_LITRE)} kg/L", source=sources.sugar()
    )
    yield Known(
        title=_("spent pomace in a sack"), amount=f"{figure(scheme.pomace_sack_kg)} kg", source=sources.lifting()
    )
    yield Known(
        title=_("ascorbic acid"), amount=f"{figure(supplies.ASCORBIC_G_PER_LITRE)} g/L", source=sources.ascorbic()
    )
    yield Known(
        title=_("a level teaspoon of it"), amount=f"{figure(supplies.ASCORBIC_TEASPOON_G)} g", source=sources.teaspoon()
    )
    if provisions.dilution:
        yield Known(
            title=_("%(name)s as bought") % {"name": SanitiserChoice(scheme.sanitiser).label},
            amount=f"{figure(scheme.sanitiser_percent or 0)} %",
            source=sources.row(),
        )
        yield Known(
            title=_("strength on surfaces, parts in a million"),
            amount=figure(provisions.dilution.ppm),
            source=sources.contact(),
        )
    yield Known(
        title=_("water for washing"),
        amount=f"{figure(supplies.WASH_LITRES_PER_KG)} L/kg",
        source=sources.common_practice(),
    )
    for draw in provisions.draws:
        yield Known(
            title=str(draw.machine),
            amount=f"{figure(draw.kw)} kW",
            source=sources.usual_load() if draw.usual else sources.row(),
        )
    if scheme.kwh_price is not None:
        yield Known(title=_("price of a kilowatt-hour"), amount=figure(scheme.kwh_price), source=sources.row())


def _steps_of_juice(ahead: Ahead) -> Iterator[Step]:
    juice, belief, kg = ahead.juice, ahead.belief, figure(ahead.pressed_kg)
    reach = student_t.quantile((1 + juice.probability) / 2, belief.freedom)
    yield Step(
        title=_("fruit pressed"),
        amount=f"{kg} kg",
        formula=f"{figure(ahead.fruit.picked_kg)} × (1 − {figure(Decimal(ahead.wanted.sorted_out_percent) / 100)})",
        source=sources.definition(),
    )
    for title, sign, bound in ((_("low yield"), "−", juice.yield_low), (_("high yield"), "+", juice.yield_high)):
        yield Step(
            title=title,
            amount=f"{figure(bound)} L/kg",
            formula=f"{figure(belief.mean)} {sign} {figure(reach)} × {figure(belief.spread)}",
            source=sources.student(),
        )
    for title, its_yield, litres in (
        (_("juice, low"), juice.yield_low, juice.low),
        (_("juice, expected"), juice.yield_expected, juice.expected),
        (_("juice, high"), juice.yield_high, juice.high),
    ):
        yield Step(
            title=title,
            amount=f"{figure(litres)} L",
            formula=f"{kg} × {figure(its_yield)}",
            source=sources.definition(),
        )
    for use, most in ahead.most_litres.items():
        percent = sum(part.percent for part in ahead.wanted.parts if part.use is use)
        yield Step(
            title=_("juice at the most, %(use)s") % {"use": UseChoice(use).label},
            amount=f"{figure(most)} L",
            formula=f"{figure(juice.high)} × {figure(Decimal(percent) / 100)}",
            source=sources.definition(),
        )


def _steps_of_containers(ahead: Ahead, bring: ToBring) -> Iterator[Step]:
    for filling in bring.fillings:
        its = {"kind": bring.kind.name, "use": str(UseChoice(filling.use).label)}
        yield Step(
            title=_("%(kind)s, juice in one: %(use)s") % its,
            amount=f"{figure(filling.kind.fill_litres(filling.use))} L",
            formula=f"{figure(filling.kind.litres)} × {figure(filling.kind.fill_for(filling.use))}",
            source=sources.definition(),
        )
        if step := _headspace(ahead, filling, its):
            yield step
        yield Step(
            title=_("%(kind)s, held by those filled: %(use)s") % its,
            amount=f"{figure(filling.litres)} L",
            formula=f"{filling.filled} × {figure(filling.kind.fill_litres(filling.use))}",
            source=sources.least(ahead.least_proved),
        )
        yield Step(
            title=_("%(kind)s, weight of a full one: %(use)s") % its,
            amount=f"{figure(filling.kind.full_kg(filling.use))} kg",
            formula=f"{figure(filling.kind.tare_kg)} + {figure(filling.kind.fill_litres(filling.use))}"
            f" × {figure(JUICE_KG_PER_LITRE)}",
            source=sources.definition(),
        )
    yield Step(
        title=_("%(kind)s, to bring") % {"kind": bring.kind.name},
        amount=figure(bring.number),
        formula=f"{bring.filled} + {bring.spares}",
        source=sources.spares(),
    )


def _headspace(ahead: Ahead, filling: Filling, its: dict[str, str]) -> Step | None:
    """How much of the container the juice takes at its hottest or frozen."""
    if filling.use not in (Use.HEATED, Use.FROZEN):
        return None
    grown = grown_fill(filling.kind, filling.use, heat_c=ahead.heat.target_c)
    fill = float(filling.kind.fill_for(filling.use))
    return Step(
        title=_("%(kind)s, how full it then is: %(use)s") % its,
        amount=figure(grown),
        formula=f"{figure(fill)} × {figure(grown / fill)}",
        source=sources.growth(filling.use),
    )


def _steps_of_provisions(ahead: Ahead, found: Provisions, scheme: Scheme) -> Iterator[Step]:
    kg, density = figure(ahead.pressed_kg), figure(JUICE_KG_PER_LITRE)
    bounds = (
        (_("spent pomace, least"), found.pomace_least, ahead.juice.high),
        (_("spent pomace, expected"), found.pomace, ahead.juice.expected),
        (_("spent pomace, most"), found.pomace_most, ahead.juice.low),
    )
    for title, pomace, litres in bounds:
        yield Step(
            title=title,
            amount=f"{figure(pomace.kg)} kg",
            formula=f"{kg} − {figure(litres)} × {density}",
            source=sources.mass_balance(),
        )
    yield Step(
        title=_("pomace sacks"),
        amount=figure(found.pomace_most.sacks),
        formula=_("%(a)s ÷ %(b)s, rounded up")
        % {"a": figure(found.pomace_most.kg), "b": figure(scheme.pomace_sack_kg)},
        source=sources.definition(),
    )
    grams = found.ascorbic.grams
    yield Step(
        title=_("ascorbic acid"),
        amount=f"{figure(grams)} g",
        formula=f"{figure(ahead.juice.expected)} × {figure(supplies.ASCORBIC_G_PER_LITRE)}",
        source=sources.definition(),
    )
    yield Step(
        title=_("level teaspoons"),
        amount=figure(found.ascorbic.teaspoons),
        formula=_("%(a)s ÷ %(b)s, rounded up") % {"a": figure(grams), "b": figure(supplies.ASCORBIC_TEASPOON_G)},
        source=sources.definition(),
    )
    yield from _steps_of_water_and_power(found, scheme)


def _steps_of_water_and_power(found: Provisions, scheme: Scheme) -> Iterator[Step]:
    if dilution := found.dilution:
        yield Step(
            title=_("sanitiser, ml"),
            amount=figure(dilution.concentrate_ml),
            formula=f"{figure(dilution.ppm)} × {figure(dilution.litres)} × 1000"
            f" ÷ ({figure(scheme.sanitiser_percent or 0)} × 10000)",
            source=sources.dilution(),
        )
    water = found.water
    yield Step(
        title=_("drinking water: washing, cleaning, sanitising, bath"),
        amount=f"{figure(water.litres)} L",
        formula=" + ".join(figure(part) for part in (water.washing, water.cleaning, water.sanitising, water.bath)),
        source=sources.common_practice(),
    )
    for draw in found.draws:
        yield Step(
            title=_("electricity for %(machine)s") % {"machine": draw.machine},
            amount=f"{figure(draw.kwh)} kWh",
            formula=f"{figure(draw.kw)} × {figure(draw.hours)}",
            source=sources.hours(draw.machine.kind, HEATER_SHARE),
        )
    if found.cost is not None:
        yield Step(
            title=_("cost of the electricity"),
            amount=figure(found.cost),
            formula=f"{figure(found.electricity.kwh)} × {figure(scheme.kwh_price or 0)}",
            source=sources.definition(),
        )
