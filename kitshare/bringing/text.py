"""Text of a file in whatever encoding: which one it is, said where it was a guess."""

import codecs
from typing import Final, NamedTuple

from django.utils.translation import gettext as _

from kitshare.bringing.rows import FileRefused

MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),  # before UTF-16, whose mark is its beginning
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class Text(NamedTuple):
    text: str
    remarks: tuple[str, ...]


def read_text(data: bytes) -> Text:
    """The text of a file. By its mark; else UTF-8 if it is that; else a guess, which is said."""
    for mark, encoding in MARKS:
        if data.startswith(mark):
            return Text(_decoded(data[len(mark) :], encoding), ())
    if guessed := wide(data):
        return Text(_decoded(data, guessed), (guess("UTF-16"),))
    try:
        return Text(_without_nothing(data.decode()), ())
    except UnicodeDecodeError:
        return Text(_decoded(data, "cp1252"), (guess("Windows-1252"),))


def guess(name: str) -> str:
    return _("Read as %(name)s, which is a guess: look at the letters with accents.") % {"name": name}


def wide(data: bytes) -> str:
    """UTF-16 without its mark shows by its many empty bytes, all on one side."""
    beginning = data[:400]
    for side, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        ours, others = beginning[side::2], beginning[1 - side :: 2]
        if len(ours) > 4 and ours.count(0) > 0.7 * len(ours) and 0 not in others:
            return encoding
    return ""


def _decoded(data: bytes, encoding: str) -> str:
    try:
        return _without_nothing(data.decode(encoding))
    except UnicodeDecodeError as error:
        line = len(data[: error.start].decode(encoding, "ignore").splitlines()) or 1
        sentence = _("the letters cannot be read. Save the file as UTF-8 and send it again.")
        raise FileRefused(sentence, line) from error


def _without_nothing(text: str) -> str:
    """Text has no empty signs: with them it is no text, or in an encoding that is not known."""
    place = text.find("\0")
    if place >= 0:
        line = text.count("\n", 0, place) + 1
        raise FileRefused(_("this is no text. Send an .ics, a CSV or an .xlsx file."), line)
    return text
