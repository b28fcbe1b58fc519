"""Look ahead at a press day from the fruit alone, by the rules that the pages use. Needs no database."""

import json
from argparse import ArgumentParser
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from itertools import groupby
from typing import Any

from django.core.management.base import CommandError
from django.utils.translation import gettext as _

from kitshare.pressdays import words
from kitshare.pressdays.management.scripted import ScriptedCommand, between
from kitshare.rules.container_choice import Filling, NotEnoughContainers
from kitshare.rules.containers import USUAL_KINDS, Use
from kitshare.rules.heat_verdict import DEFAULT_RECOMMENDATION, Recommendation
from kitshare.rules.heating import NeverReached
from kitshare.rules.outlook import USUAL_HELPERS, USUAL_MIX, USUAL_USE, Outlook, Part, outlook
from kitshare.rules.pressday import Bar
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
            raise CommandError(between("fruit-kg", refused.least, refused.most, fruit_kg)) from None
        except KindTwice as refused:
            raise CommandError(_("%(kind)s stands in the mix twice.") % {"kind": refused.kind_key}) from None
        except SharesDoNotSum as refused:
            sentence = _("The shares of the containers must add up to 1, and they make %(sum)s.")
            raise CommandError(sentence % {"sum": refused.value}) from None
        except NotEnoughContainers as refused:
            raise CommandError(_refusal(refused)) from None
        except NeverReached as refused:
            sentence = _("The usual heater gets no further than %(degrees).0f °C.")
            raise CommandError(sentence % {"degrees": refused.settles_at_c}) from None
        except OutOfRange as refused:
            raise CommandError(between(refused.quantity, refused.low, refused.high, refused.value)) from None
        self.stdout.write(json.dumps(_as_json(found), ensure_ascii=False) if options["as_json"] else _as_text(found))


def _decimal(text: str, option: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        sentence = _("%(what)s must be a number, and “%(typed)s” is none.")
        raise CommandError(sentence % {"what": option, "typed": text[:40]}) from None


def _part(text: str) -> Part:
    name, equals, share = text.partition("=")
    key, _colon, use = name.strip().partition(":")
    if not equals:
        raise CommandError(_("--container must read KIND=SHARE, and “%(typed)s” does not.") % {"typed": text[:40]})
    if key not in KINDS:
        sentence = _("There is no container “%(typed)s”; there are %(known)s.")
        raise CommandError(sentence % {"typed": key[:40], "known": ", ".join(KINDS)})
    if use and use not in list(Use):
        sentence = _("There is no use “%(typed)s”; there are %(known)s.")
        raise CommandError(sentence % {"typed": use[:40], "known": ", ".join(known.value for known in Use)})
    share_of = _("The share of %(kind)s") % {"kind": key}
    return Part(kind=KINDS[key], use=Use(use) if use else USUAL_USE[key], share=_decimal(share.strip(), share_of))


def _refusal(refused: NotEnoughContainers) -> str:
    sentence = _("a %(kind)s may not hold %(use)s juice, because %(why)s")
    reasons = [
        sentence % {"kind": key, "use": refused.use.value, "why": words.container_refusal(why)}
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


def _batch(bar: Bar) -> dict[str, Any]:
    return {
        "batch": bar.batch,
        "kind": bar.kind,
        "count": bar.containers,
        "litres": round(bar.amount, 3),
        "in_minutes": round(bar.start, 1),
        "out_minutes": round(bar.end, 1),
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
        "heat_batches": len(found.day.heated),
        "heat": [_batch(bar) for bar in found.day.heated],
        "finish_minutes": round(day.finish, 1),
        "bottleneck": day.bottleneck.value,
        "hands": {station.value: round(hands, 2) for station, hands in day.hands.items()},
        "warnings": [words.caution(caution, about) for caution, about in found.warnings],
    }


def _as_text(found: Outlook) -> str:
    juice, day = found.juice, found.day
    lines = [
        _("Juice: between %(low).0f and %(high).0f litres, nine days in ten.") % {"low": juice.low, "high": juice.high},
        *(_filling_in_words(filling) for filling in found.fillings),
        *_heat_in_words(found.day.heated),
        _("Spent pomace: %(kg).0f kg; bring %(sacks)d sacks.") % {"kg": found.pomace_kg, "sacks": found.sacks},
        _("Ascorbic acid: %(grams).0f g. Drinking water: %(litres).0f litres.")
        % {"grams": found.ascorbic_acid.grams, "litres": found.water_litres},
        _("The last bottle is cool and the yard clean after %(hours).1f hours; the rest waits for the %(station)s.")
        % {"hours": day.finish / 60, "station": words.station(day.bottleneck)},
    ]
    return "\n".join([*lines, *(words.caution(caution, about) for caution, about in found.warnings)])


def _heat_in_words(bars: Sequence[Bar]) -> list[str]:
    """The batches in their order, where several kinds are heated."""
    runs = [(kind, list(batches)) for kind, batches in groupby(bars, key=lambda bar: bar.kind)]
    if len(runs) < 2:
        return []
    said = [
        _("%(batches)d of %(kind)s (%(count)d)")
        % {"batches": len(batches), "kind": kind, "count": sum(bar.containers for bar in batches)}
        for kind, batches in runs
    ]
    return [_("Batches in the bath, each of one kind, in this order: %(runs)s.") % {"runs": ", ".join(said)}]


def _filling_in_words(filling: Filling) -> str:
    return _("%(count)d × %(kind)s (%(use)s), %(spares)d spare, %(crates)d crates.") % {
        "count": filling.filled,
        "kind": filling.kind.key,
        "use": filling.use.value,
        "spares": filling.spares,
        "crates": filling.crates,
    }
