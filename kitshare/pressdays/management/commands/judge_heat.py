"""Judge a log of probe readings from a file, by the rules that the pages use. Needs no database."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils.translation import gettext as _

from kitshare.pressdays import words
from kitshare.pressdays.management.scripted import ScriptedCommand, between
from kitshare.rules.heat_verdict import DEFAULT_RECOMMENDATION, HeatVerdict, Recommendation, Verdict, judge
from kitshare.rules.probes import UNCHECKED, known_offset
from kitshare.rules.readings import LogRefused, ReadLog, TemperatureUnit, TimeForm, UnitUnknown, read_log
from kitshare.rules.readings_table import MOST_BYTES
from kitshare.rules.water import OutOfRange

TIME_UNITS = {"min": TimeForm.MINUTES, "s": TimeForm.SECONDS, "h": TimeForm.HOURS}


class Command(ScriptedCommand):
    help = "Says whether a log of probe readings shows the recommended hold, and what the heat adds up to."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", help="text or CSV of times and temperatures; - for standard input")
        parser.add_argument("--target-c", type=float, default=DEFAULT_RECOMMENDATION.target_c, metavar="C")
        parser.add_argument("--hold-minutes", type=float, default=DEFAULT_RECOMMENDATION.hold_minutes, metavar="MIN")
        parser.add_argument(
            "--probe-offset-c",
            type=float,
            metavar="C",
            help="degrees to add to every reading, from a check of the probe",
        )
        parser.add_argument("--ph", type=float, help="pH of the juice, if it was measured")
        parser.add_argument("--unit", choices=[u.value for u in TemperatureUnit], help="where the log does not say")
        parser.add_argument("--time-unit", choices=TIME_UNITS, help="of plain numbers, where the log does not say")
        self.add_json(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        """Read, judge, print."""
        read = _read(options)
        try:
            wanted = Recommendation(
                target_c=options["target_c"], hold_minutes=options["hold_minutes"], source="given on the command line"
            )
            offset = options["probe_offset_c"]
            probe = UNCHECKED if offset is None else known_offset(offset)
            found = judge(read.log, recommendation=wanted, probe=probe, ph=options["ph"])
        except OutOfRange as refused:
            option = refused.quantity.replace("offset_c", "probe_offset_c")
            raise CommandError(between(option, refused.low, refused.high, refused.value)) from None
        self.stdout.write(
            json.dumps(_as_json(found, read), ensure_ascii=False) if options["as_json"] else _as_text(found)
        )


def _read(options: dict[str, Any]) -> ReadLog:
    name = options["file"]
    try:
        if name == "-":
            data = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            with Path(name).open("rb") as log:
                data = log.read(MOST_BYTES + 1)
    except (OSError, ValueError) as failed:
        why = failed.strerror if isinstance(failed, OSError) and failed.strerror else _("it has no proper name")
        raise CommandError(_("%(name)s cannot be read: %(why)s.") % {"name": name, "why": why}) from None
    unit = TemperatureUnit(options["unit"]) if options["unit"] else None
    time_form = TIME_UNITS[options["time_unit"]] if options["time_unit"] else None
    try:
        return read_log(data, unit=unit, time_form=time_form)
    except UnitUnknown as refused:
        sentence = _("%(refusal)s; say --unit C or --unit F.")
        raise CommandError(sentence % {"refusal": words.log_refusal(refused)[:-1]}) from None
    except LogRefused as refused:
        raise CommandError(words.log_refusal(refused)) from None


def _rounded(value: float | None, places: int = 3) -> float | None:
    return None if value is None else round(value, places)


def _as_json(found: HeatVerdict, read: ReadLog) -> dict[str, Any]:
    return {
        "verdict": found.verdict.value,
        "reasons": [words.reason(r) for r in found.reasons],
        "reason_codes": [r.code.value for r in found.reasons],
        "remedies": [words.remedy(r) for r in found.remedies],
        "reached_at_minutes": _rounded(found.reached_at),
        "hold_minutes": _rounded(found.longest.minutes if found.longest else 0.0),
        "lowest_in_hold_c": _rounded(found.longest.lowest_c if found.longest else None),
        "highest_c": _rounded(found.highest_c),
        "gaps": found.gaps,
        "pu_60_7": _rounded(found.lethality.pu_60_7),
        "spore_80_10": _rounded(found.lethality.spore_80_10),
        "logs": {organism.value: _rounded(logs) for organism, logs in found.lethality.logs.items()},
        "readings": read.found.rows,
        "unit": read.found.unit.value,
        "unit_marked": read.found.unit_marked,
        "time_form": read.found.time_form.value,
        "time_assumed": read.found.time_assumed,
        "repeated_stamps": read.found.repeated,
    }


def _as_text(found: HeatVerdict) -> str:
    held = found.verdict is Verdict.HELD
    wanted = found.recommendation
    lines = [_("Held as recommended.") if held else _("Not shown to be held as recommended.")]
    given = {"target": f"{wanted.target_c:g}", "minutes": f"{wanted.hold_minutes:g}"}
    lines.append(_("Recommended: %(target)s °C for %(minutes)s minutes.") % given)
    if found.reached_at is not None:
        lines.append(_("Reached %(minutes).1f minutes after the first reading.") % {"minutes": found.reached_at})
    if found.longest:
        seen = {"minutes": found.longest.minutes, "coldest": found.longest.lowest_c}
        lines.append(_("Longest hold: %(minutes).1f minutes, coldest %(coldest).1f °C.") % seen)
    lines += [words.reason(r) for r in found.reasons]
    lines += [words.remedy(r) for r in found.remedies]
    lethality = {"units": found.lethality.pu_60_7}
    lines.append(_("Beside it, the heat of the whole log: %(units).0f PU (60 °C, z 7).") % lethality)
    return "\n".join(lines)
