"""Look ahead at a press day from the fruit alone, by the rules that the pages use. Needs no database."""

import json
from argparse import ArgumentParser
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.management.base import CommandError

from kitshare.pressdays import words
from kitshare.pressdays.management.scripted import ScriptedCommand
from kitshare.rules.container_choice import Filling, NotEnoughContainers
from kitshare.rules.containers import USUAL_KINDS, Use
from kitshare.rules.heat_verdict import DEFAULT_RECOMMENDATION, Recommendation
from kitshare.rules.heating import NeverReached
from kitshare.rules.outlook import USUAL_HELPERS, USUAL_MIX, USUAL_USE, Outlook, Part, outlook
from kitshare.rules.sizing_terms import FruitOutOfRange, KindTwice, SharesDoNotSum
from kitshare.rules.water import OutOfRange

KINDS = {kind.key: kind for kind in USUAL_KINDS}


class Command(ScriptedCommand):
    help = "Says what so much fruit gives, what to put it in, what to bring and how long the day is."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--fruit-kg", required=True, metavar="KG")
        parser.add_argument(
            "--container",
            action="append",
            default=[],
            metavar="KIND=SHARE",
            help=f"share of the juice, 0 to 1, by kind: {', '.join(KINDS)}; for another use than the usual one "
            f"KIND:USE=SHARE ({', '.join(use.value for use in Use)})",
        )
        parser.add_argument("--helpers", type=int, default=USUAL_HELPERS, metavar="N")
        parser.add_argument("--target-c", type=float, default=DEFAULT_RECOMMENDATION.target_c, metavar="C")
        self.add_json(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, plan, print."""
        fruit_kg = _decimal(options["fruit_kg"], "--fruit-kg")
        mix = tuple(_part(text) for text in options["container"]) or USUAL_MIX
        try:
            wanted = Recommendation(
                target_c=options["target_c"], hold_minutes=DEFAULT_RECOMMENDATION.hold_minutes, source="command line"
            )
            found = outlook(fruit_kg, mix=mix, helpers=options["helpers"], recommendation=wanted)
        except FruitOutOfRange as refused:
            raise CommandError(
                f"--fruit-kg must lie between {refused.least} and {refused.most}, and {fruit_kg} does not."
            ) from None
        except KindTwice as refused:
            raise CommandError(f"{refused.kind_key} stands in the mix twice.") from None
        except SharesDoNotSum as refused:
            raise CommandError(
                f"The shares of the containers must add up to 1, and they make {refused.value}."
            ) from None
        except NotEnoughContainers as refused:
            raise CommandError(_refusal(refused)) from None
        except NeverReached as refused:
            raise CommandError(f"The usual heater gets no further than {refused.settles_at_c:.0f} °C.") from None
        except OutOfRange as refused:
            option = refused.quantity.replace("_", "-")
            raise CommandError(
                f"--{option} must lie between {refused.low:g} and {refused.high:g}, and {refused.value:g} does not."
            ) from None
        self.stdout.write(json.dumps(_as_json(found), ensure_ascii=False) if options["as_json"] else _as_text(found))


def _decimal(text: str, option: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        raise CommandError(f"{option} must be a number, and “{text[:40]}” is none.") from None


def _part(text: str) -> Part:
    name, equals, share = text.partition("=")
    key, _, use = name.strip().partition(":")
    if not equals:
        raise CommandError(f"--container must read KIND=SHARE, and “{text[:40]}” does not.")
    if key not in KINDS:
        raise CommandError(f"There is no container “{key[:40]}”; there are {', '.join(KINDS)}.")
    if use and use not in list(Use):
        raise CommandError(f"There is no use “{use[:40]}”; there are {', '.join(u.value for u in Use)}.")
    return Part(
        kind=KINDS[key], use=Use(use) if use else USUAL_USE[key], share=_decimal(share.strip(), f"The share of {key}")
    )


def _refusal(refused: NotEnoughContainers) -> str:
    reasons = [
        f"a {key} may not hold {refused.use.value} juice, because {words.container_refusal(why)}"
        for key, reasons in refused.refused.items()
        for why in reasons
    ]
    return f"{'; '.join(reasons)}."


def _container(filling: Filling) -> dict[str, Any]:
    return {
        "kind": filling.kind.key,
        "use": filling.use.value,
        "count": filling.filled,
        "fill_litres": float(filling.kind.fill_litres(filling.use)),
        "spares": filling.spares,
        "caps": filling.caps,
        "crates": filling.crates,
        "full_kg": round(float(filling.full_kg), 1),
    }


def _as_json(found: Outlook) -> dict[str, Any]:
    juice, day = found.juice, found.day
    return {
        "juice_litres": {
            "low": round(juice.low, 3),
            "expected": round(juice.expected, 3),
            "high": round(juice.high, 3),
            "probability": juice.probability,
            "days": juice.days,
        },
        "containers": [_container(filling) for filling in found.fillings],
        "pomace_kg": round(float(found.pomace_kg), 3),
        "sacks": found.sacks,
        "ascorbic_acid_g": round(float(found.ascorbic_acid.grams), 3),
        "water_litres": round(float(found.water_litres), 1),
        "heat_batches": found.batches.batches if found.batches else 0,
        "finish_minutes": round(day.finish, 1),
        "bottleneck": day.bottleneck.value,
        "hands": {station.value: round(hands, 2) for station, hands in day.hands.items()},
        "warnings": [words.caution(caution, about) for caution, about in found.warnings],
    }


def _as_text(found: Outlook) -> str:
    juice, day = found.juice, found.day
    lines = [f"Juice: between {juice.low:.0f} and {juice.high:.0f} litres, nine days in ten."]
    lines += [
        f"{f.filled} × {f.kind.key} ({f.use.value}), {f.spares} spare, {f.crates} crates." for f in found.fillings
    ]
    lines.append(f"Spent pomace: {found.pomace_kg:.0f} kg; bring {found.sacks} sacks.")
    lines.append(f"Ascorbic acid: {found.ascorbic_acid.grams:.0f} g. Drinking water: {found.water_litres:.0f} litres.")
    lines.append(
        f"The last bottle is cool and the yard clean after {day.finish / 60:.1f} hours; "
        f"the rest waits for the {words.station(day.bottleneck)}."
    )
    return "\n".join([*lines, *(words.caution(caution, about) for caution, about in found.warnings)])
