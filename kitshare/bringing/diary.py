"""Bookings in a calendar file (.ics): our own, and such as somebody keeps in a calendar program.

An entry of ours says its village and machines in properties of their own. In one that somebody else wrote they are
looked for in its words. What repeats without writing its days out, and a moment without a time zone that is known, is
refused with its line.
"""

import functools
import re
import zoneinfo
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from icalendar import vDuration

from kitshare.bookings.calendars import plain
from kitshare.bookings.words import day_in_words
from kitshare.bringing import cells
from kitshare.bringing.cells import NotUnderstood
from kitshare.bringing.diary_lines import Entry, Property, read_entries
from kitshare.bringing.rows import LONGEST, Row, Sheet

OURS: Final = "X-KITSHARE-"
RELAY: Final = ("RELAY-FROM", "CARRIED-BY", "MEET-AT")
OWN: Final = (*RELAY, "VILLAGE", "BORROWER", "MACHINES", "OUT-TIME", "BACK-TIME", "FRUIT", "STAGE", "NOTE", "REASON")
ONCE: Final = ("UID", "DTSTART", "DTEND", "DURATION")
REPEATING: Final = ("RRULE", "RDATE", "EXRULE")
SAID: Final = ("SUMMARY", "LOCATION", "DESCRIPTION")
OTHERS: Final = ("STATUS", "RECURRENCE-ID", "METHOD", "CALSCALE")
WANTED: Final = frozenset((*ONCE, *REPEATING, *SAID, *OTHERS, *(OURS + name for name in OWN)))
DAY: Final = re.compile(r"(\d{4})(\d{2})(\d{2})", re.ASCII)
MOMENT: Final = re.compile(r"(\d{4})(\d{2})(\d{2})T(\d{2})(\d{2})(\d{2})(Z?)", re.ASCII)
# What our feeds write of a booking's two ends; the booking itself is an entry beside them.
HANDOVER: Final = re.compile(r"^[0-9a-f-]{36}-(out|back)@kitshare$")
NOON: Final = time(12)
ONE_DAY: Final = timedelta(days=1)


class _Problem(Exception):
    """Something wrong with one property: a sentence that names its line."""

    def __init__(self, at: Property, sentence: str) -> None:
        super().__init__(_("Line %(line)d: %(why)s") % {"line": at.line, "why": sentence})


def read_diary(data: bytes, *, zone: ZoneInfo) -> Sheet:
    """The entries of a calendar file as rows. Moments become days in `zone`. Raises FileRefused."""
    diary = read_entries(data, wanted=WANTED)
    remarks = list(diary.remarks)
    if diary.passed_over:
        sentence = ngettext(
            "%(count)d entry is no event, and is left aside.",
            "%(count)d entries are no events, and are left aside.",
            diary.passed_over,
        )
        remarks.append(sentence % {"count": diary.passed_over})
    rows = [_row(entry, zone, is_cancelled=diary.method == "CANCEL") for entry in diary.entries]
    return Sheet(rows=rows, remarks=tuple(remarks))


def _row(entry: Entry, zone: ZoneInfo, *, is_cancelled: bool) -> Row:
    texts = {name: plain(at.text).strip() for name, at in entry.found.items()}
    reference = texts.get("UID", "")
    if "RECURRENCE-ID" in texts:
        reference = f"{reference}/{texts['RECURRENCE-ID']}"
    if HANDOVER.search(reference):
        return Row(place=entry.line, reference=reference, aside=_("when a booking is collected or brought back"))
    is_ours = OURS + "VILLAGE" in texts
    if (is_cancelled or texts.get("STATUS", "").upper() == "CANCELLED") and OURS + "STAGE" not in texts:
        aside = _("called off in the calendar: “%(title)s”") % {"title": texts.get("SUMMARY", "")[:80]}
        return Row(place=entry.line, reference=reference[: LONGEST["reference"]], aside=aside)
    facts: dict[str, Any] = {"place": entry.line, "reference": reference, "problems": []}
    facts["problems"] += _repeats(entry)
    try:
        facts |= _days(entry, zone)
    except (NotUnderstood, _Problem) as problem:
        facts["problems"].append(str(problem))
    try:
        facts |= _own(texts) if is_ours else _foreign(texts)
    except NotUnderstood as problem:
        facts["problems"].append(_("Line %(line)d: %(why)s") % {"line": entry.line, "why": problem})
    for name, longest in LONGEST.items():
        if len(facts.get(name, "")) > longest:
            facts["problems"].append(_("Line %(line)d: far too long.") % {"line": entry.line})
            facts[name] = ""
    return Row(**facts | {"problems": tuple(facts["problems"])})


def _repeats(entry: Entry) -> Iterator[str]:
    for name in REPEATING:
        if name in entry.found:
            sentence = _("it repeats (%(name)s). Write each outing out singly.") % {"name": name}
            yield str(_Problem(entry.found[name], sentence))
            return
    for name, line in entry.twice.items():
        if name in ONCE:
            yield _("Line %(line)d: %(name)s a second time.") % {"line": line, "name": name}


def _own(texts: dict[str, str]) -> dict[str, Any]:
    ours = {name: texts.get(OURS + name, "") for name in OWN}
    amount, unit = cells.read_amount(ours["FRUIT"]) if ours["FRUIT"] else (None, "kg")
    return {
        "village": ours["VILLAGE"],
        "borrower": ours["BORROWER"],
        "machines": cells.read_names(ours["MACHINES"]),
        "out_time": cells.read_time(ours["OUT-TIME"]) if ours["OUT-TIME"] else None,
        "back_time": cells.read_time(ours["BACK-TIME"]) if ours["BACK-TIME"] else None,
        "fruit_amount": amount,
        "fruit_unit": unit or "kg",
        "stage": cells.read_stage(ours["STAGE"]) if ours["STAGE"] else "",
        **{name.lower().replace("-", "_"): ours[name] for name in RELAY},
        "note": ours["NOTE"],
        "reason": ours["REASON"],
    }


def _foreign(texts: dict[str, str]) -> dict[str, Any]:
    said = "\n".join(texts[name] for name in SAID if texts.get(name))
    stage = "asked" if texts.get("STATUS", "").upper() == "TENTATIVE" else ""
    return {"said": said[:4000], "note": texts.get("DESCRIPTION", "")[: LONGEST["note"]].strip(), "stage": stage}


def _days(entry: Entry, zone: ZoneInfo) -> dict[str, Any]:
    """The day out and the morning back, and what was made of moments to come to them."""
    if "DTSTART" not in entry.found:
        raise NotUnderstood(_("Line %(line)d: it has no beginning (DTSTART).") % {"line": entry.line})
    at = entry.found["DTSTART"]
    start = _when(at)
    end, ends_at = _end(entry, at, start)
    _check_years(ends_at, start, end)
    if not isinstance(start, datetime):
        if end <= start:
            sentence = _("it ends before the day after it begins. The end of whole days is the day after the last.")
            raise _Problem(ends_at, sentence)
        return {"out_on": start, "back_on": end}
    if end < start:
        raise _Problem(ends_at, _("it ends before it begins."))
    assert isinstance(end, datetime)  # noqa: S101 - what _end has seen to
    return _mornings(start.astimezone(zone), end.astimezone(zone))


def _mornings(start: datetime, end: datetime) -> dict[str, Any]:
    """Whole days for moments: what ends in the afternoon is back by the next morning."""
    is_morning = end.time() <= NOON and end.date() > start.date()
    back_on = end.date() if is_morning else end.date() + ONE_DAY
    times = {"out_time": start.time().replace(second=0)} | (
        {"back_time": end.time().replace(second=0)} if is_morning else {}
    )
    words = {"ends": f"{day_in_words(end.date())} {end:%H:%M}", "back": day_in_words(back_on)}
    remark = _("It ends on %(ends)s: taken as back by the morning of %(back)s.") % words
    return {"out_on": start.date(), "back_on": back_on, "remarks": () if is_morning else (remark,), **times}


def _end(entry: Entry, begins_at: Property, start: date) -> tuple[date, Property]:
    """When it ends, and the property that says so. Without one: after a day, or at once where it has an hour."""
    if "DTEND" in entry.found:
        at = entry.found["DTEND"]
        end = _when(at)
        if isinstance(end, datetime) != isinstance(start, datetime):
            raise _Problem(at, _("it begins with a day and ends with an hour, or the other way round."))
        return end, at
    if "DURATION" not in entry.found:
        return (start if isinstance(start, datetime) else start + ONE_DAY), begins_at
    at = entry.found["DURATION"]
    try:
        lasts = vDuration.from_ical(at.value.strip())  # type: ignore[no-untyped-call]
        end = start + lasts
    except (ValueError, OverflowError) as error:
        raise _Problem(at, _("“%(text)s” is no length of time.") % {"text": at.value[:40]}) from error
    if not isinstance(start, datetime) and lasts % ONE_DAY:
        raise _Problem(at, _("it begins with a day and lasts for hours."))
    return end, at


def _check_years(at: Property, *days: date) -> None:
    try:
        for day in days:
            cells.check_year(day)
    except NotUnderstood as problem:
        raise _Problem(at, str(problem)) from problem


def _when(at: Property) -> date:
    """A day, or a moment with its zone."""
    value = at.value.strip()
    try:
        if found := DAY.fullmatch(value):
            return date(*map(int, found.groups()))
        if found := MOMENT.fullmatch(value):
            year, month, day, hour, minute, second = (int(number) for number in found.groups()[:6])
            zone = UTC if found[7] else _zone(at)
            return datetime(year, month, day, hour, minute, min(second, 59), tzinfo=zone)  # 60 is a leap second
    except ValueError as error:
        raise _Problem(at, _("“%(text)s” is no day of the calendar.") % {"text": value[:40]}) from error
    raise _Problem(at, _("“%(text)s” is no day or moment.") % {"text": value[:40]})


def _zone(at: Property) -> ZoneInfo:
    name = at.parameters.get("TZID", "").strip('"')
    if not name:
        sentence = _("it has an hour and no time zone. Give whole days, or moments in UTC or in a named zone.")
        raise _Problem(at, sentence)
    if name not in _zones():
        words = {"name": name[:60]}
        raise _Problem(at, _("the time zone “%(name)s” is not known. Write it like Europe/Lisbon.") % words)
    return ZoneInfo(name)


@functools.cache
def _zones() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())
