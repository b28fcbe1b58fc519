"""The lines of an iCalendar file (RFC 5545), unfolded, each with its number, and the entries that they make up.

Nothing is taken for granted: what is not closed, lies in the wrong place or goes on for too long is refused with its
line. icalendar takes single lines apart; it is never given a whole file.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from django.utils.translation import gettext as _
from icalendar.parser import Contentline

from kitshare.bringing.rows import MOST_ROWS, FileRefused
from kitshare.bringing.text import MARKS, guess, read_text, wide

MOST_OCTETS: Final = 60_000  # of one property, unfolded: an attachment within the file is no booking
DEEPEST: Final = 8
NAME: Final = re.compile(r"([A-Za-z0-9-]+)[;:]")
ESCAPED: Final = re.compile(r"\\([\\;,nN])")


class Line(NamedTuple):
    number: int
    text: str


class Property(NamedTuple):
    """One property of an entry. Parameters go by their names in capitals."""

    line: int
    parameters: dict[str, str]
    value: str

    @property
    def text(self) -> str:
        """The value as text, by 3.3.11."""
        return ESCAPED.sub(lambda found: "\n" if found[1] in "nN" else found[1], self.value)


@dataclass(slots=True)
class Entry:
    """One VEVENT: where it begins, and those of its properties that matter here."""

    line: int
    found: dict[str, Property] = field(default_factory=dict)
    twice: dict[str, int] = field(default_factory=dict)  # where a second of the same name stands


class Diary(NamedTuple):
    entries: list[Entry]
    passed_over: int  # tasks, journals and the like
    method: str
    remarks: tuple[str, ...]


def read_entries(data: bytes, *, wanted: frozenset[str]) -> Diary:
    """Every VEVENT with its wanted properties. Raises FileRefused."""
    lines, remarks = _lines(data)
    walk = _Walk(wanted)
    for line in lines:
        walk.take(line)
    walk.finish()
    return Diary(walk.entries, walk.passed_over, walk.method, remarks)


class _Walk:
    """Goes through the lines once, and knows in which component it is."""

    def __init__(self, wanted: frozenset[str]) -> None:
        self.wanted = wanted
        self.entries: list[Entry] = []
        self.passed_over = 0
        self.method = ""
        self.inside: list[tuple[str, int]] = []
        self.last = 1

    def take(self, line: Line) -> None:
        self.last = line.number
        if not line.text.strip():
            return
        name = NAME.match(line.text)
        if name is None:
            raise FileRefused(_("this is no line of a calendar file."), line.number)
        word = name[1].upper()
        if word == "BEGIN":
            self._begin(line, line.text[6:].strip().upper())
        elif word == "END":
            self._end(line, line.text[4:].strip().upper())
        elif not self.inside:
            raise FileRefused(_("nothing stands outside BEGIN:VCALENDAR and END:VCALENDAR."), line.number)
        elif word in self.wanted:
            self._keep(line, word)

    def finish(self) -> None:
        if self.inside:
            component, line = self.inside[-1]
            sentence = _("the file breaks off: %(component)s, begun in line %(line)d, has no end.")
            raise FileRefused(sentence % {"component": component, "line": line}, self.last)

    def _begin(self, line: Line, component: str) -> None:
        parent = self.inside[-1][0] if self.inside else ""
        if component == "VCALENDAR" and parent:
            raise FileRefused(_("a calendar within a calendar. Send each as a file of its own."), line.number)
        if (component == "VCALENDAR") != (not parent) or (component == "VEVENT" and parent != "VCALENDAR"):
            words = {"component": component[:40]}
            raise FileRefused(_("%(component)s stands in the wrong place.") % words, line.number)
        if len(self.inside) == DEEPEST:
            raise FileRefused(_("one thing within another, and another, and another."), line.number)
        self.inside.append((component, line.number))
        if component == "VEVENT":
            if len(self.entries) == MOST_ROWS:
                raise FileRefused(
                    _("more than %(most)d bookings. Send it in parts.") % {"most": MOST_ROWS}, line.number
                )
            self.entries.append(Entry(line.number))
        elif parent == "VCALENDAR" and component != "VTIMEZONE":
            self.passed_over += 1

    def _end(self, line: Line, component: str) -> None:
        if not self.inside or self.inside[-1][0] != component:
            raise FileRefused(
                _("END:%(component)s ends what has not begun.") % {"component": component[:40]}, line.number
            )
        self.inside.pop()

    def _keep(self, line: Line, word: str) -> None:
        component = self.inside[-1][0]
        if component == "VCALENDAR" and word in {"METHOD", "CALSCALE"}:
            value = line.text.partition(":")[2].strip().upper()
            if word == "METHOD":
                self.method = value
            elif value != "GREGORIAN":
                raise FileRefused(_("only the Gregorian calendar is understood."), line.number)
        elif component == "VEVENT":
            entry = self.entries[-1]
            if word in entry.found:
                entry.twice.setdefault(word, line.number)
            else:
                entry.found[word] = _property(line)


def _property(line: Line) -> Property:
    try:
        _name, parameters, value = Contentline(line.text).raw_parts()  # type: ignore[no-untyped-call]
    except (ValueError, AssertionError) as error:
        raise FileRefused(_("this is no line of a calendar file."), line.number) from error
    given = {
        str(name).upper(): value if isinstance(value, str) else ",".join(value) for name, value in parameters.items()
    }
    return Property(line.number, given, value)


def _lines(data: bytes) -> tuple[Iterator[Line], tuple[str, ...]]:
    """Whole lines as text. Folding goes by octets, and may cut a letter in two: unfold first, then decode."""
    remarks: tuple[str, ...] = ()
    if any(data.startswith(mark) for mark, _encoding in MARKS) or wide(data):
        text, remarks = read_text(data)
        data = text.encode()
    unfolded = list(_unfolded(data))
    try:
        return iter([Line(number, octets.decode()) for number, octets in unfolded]), remarks
    except UnicodeDecodeError:
        return _in_an_old_encoding(unfolded), (*remarks, guess("Windows-1252"))


def _in_an_old_encoding(unfolded: list[tuple[int, bytes]]) -> Iterator[Line]:
    for number, octets in unfolded:
        try:
            yield Line(number, octets.decode("cp1252"))
        except UnicodeDecodeError as error:
            sentence = _("the letters cannot be read. Save the file as UTF-8 and send it again.")
            raise FileRefused(sentence, number) from error


def _unfolded(data: bytes) -> Iterator[tuple[int, bytes]]:
    number, parts, size = 1, [b""], 0
    for place, octets in enumerate(data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n"), start=1):
        if octets[:1] in {b" ", b"\t"} and place > 1:
            parts.append(octets[1:])
            size += len(octets)
        else:
            if place > 1:
                yield number, b"".join(parts)
            number, parts, size = place, [octets], len(octets)
        if size > MOST_OCTETS:
            raise FileRefused(_("far too long. Take attachments out of the calendar, and send it again."), place)
        if b"\0" in octets:
            raise FileRefused(_("this is no text. Send an .ics, a CSV or an .xlsx file."), place)
    yield number, b"".join(parts)
