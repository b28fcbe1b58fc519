"""Time zones by the names that people type."""

import functools
import zoneinfo


@functools.cache
def zone_names() -> tuple[str, ...]:
    """The zones that are named after a place, and UTC."""
    places = {name for name in zoneinfo.available_timezones() if "/" in name and not name.startswith("Etc/")}
    return (*sorted(places), "UTC")


@functools.cache
def _by_words() -> dict[str, str]:
    """Each zone by its whole name, and by its last word where no other zone ends so."""
    whole = {name.lower(): name for name in zone_names()}
    ends: dict[str, set[str]] = {}
    for name in zone_names():
        ends.setdefault(name.rpartition("/")[2].lower(), set()).add(name)
    return {end: names.pop() for end, names in ends.items() if len(names) == 1} | whole


def find_zone(typed: str) -> str | None:
    """The zone meant by "europe/london", "Europe / London" or just "new york"; None when it is none or several."""
    words = "/".join("_".join(part.split()) for part in typed.split("/"))
    return _by_words().get(words.lower())
