"""What the rules work out, as it is kept in a row, and back again."""

import struct
import zlib
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from kitshare.rules.heat import HeatLog, Lethality, Organism
from kitshare.rules.heat_verdict import HeatVerdict, Hold, Reason, ReasonCode, Recommendation, Remedy, Verdict
from kitshare.rules.readings import Found


def pack(heat_log: HeatLog) -> bytes:
    """Minutes and temperatures as eight bytes each, deflated: 200,000 readings are a megabyte or two."""
    numbers = (*heat_log.minutes, *heat_log.celsius)
    return zlib.compress(struct.pack(f"<{len(numbers)}d", *numbers), 6)


def unpack(packed: bytes | memoryview) -> HeatLog:
    """The log that was packed, to the last bit."""
    plain = zlib.decompress(packed)
    numbers = struct.unpack(f"<{len(plain) // 8}d", plain)
    half = len(numbers) // 2
    return HeatLog(minutes=numbers[:half], celsius=numbers[half:])


def verdict_as_plain(verdict: HeatVerdict) -> dict[str, Any]:
    """Every number and code of a verdict, for a JSON column."""
    return asdict(verdict)


def verdict_from_plain(plain: dict[str, Any]) -> HeatVerdict:
    """The verdict that was told."""
    lethality = dict(plain["lethality"])
    lethality["logs"] = {Organism(name): logs for name, logs in lethality["logs"].items()}
    return HeatVerdict(
        verdict=Verdict(plain["verdict"]),
        reasons=tuple(
            Reason(code=ReasonCode(one["code"]), seen=one["seen"], wanted=one["wanted"]) for one in plain["reasons"]
        ),
        remedies=tuple(map(Remedy, plain["remedies"])),
        recommendation=Recommendation(**plain["recommendation"]),
        reached_at=plain["reached_at"],
        longest=Hold(**plain["longest"]) if plain["longest"] else None,
        highest_c=plain["highest_c"],
        gaps=plain["gaps"],
        lethality=Lethality(**lethality),
    )


def found_as_plain(found: Found) -> dict[str, Any]:
    """How a text was understood, for a JSON column."""
    return asdict(found)


def points_as_plain(points: Iterable[tuple[float, float]]) -> list[list[float]]:
    """Points of a curve, short enough for a JSON column: a thousandth of a minute and of a degree."""
    return [[round(minute, 3), round(celsius, 3)] for minute, celsius in points]
