"""Bookings in a text table: CSV with commas, semicolons or tabs."""

import csv
import io
from collections.abc import Iterator
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bringing.rows import FileRefused, Sheet
from kitshare.bringing.table import Line, columns_of, read_lines
from kitshare.bringing.text import read_text

DELIMITERS: Final = (",", ";", "\t")


def read_separated(data: bytes) -> Sheet:
    """The bookings of a CSV file. Raises FileRefused."""
    text, remarks = read_text(data)
    return read_lines(_lines(text, _delimiter(text)), remarks=remarks)


def _delimiter(text: str) -> str:
    """The sign by which the first row falls into the most columns of ours."""
    first = next((line for line in io.StringIO(text) if line.strip()), "")

    def fits(sign: str) -> int:
        try:
            return len(columns_of(next(csv.reader([first], delimiter=sign), [])))
        except (csv.Error, FileRefused):
            return 0

    return max(DELIMITERS, key=fits)


def _lines(text: str, delimiter: str) -> Iterator[Line]:
    """Each row with the line on which it begins: a cell may go on over several."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    while True:
        place = reader.line_num + 1
        try:
            cells = next(reader, None)
        except csv.Error as error:
            sentence = _("the table breaks off here: a quotation mark is not closed, or stands in a wrong place.")
            raise FileRefused(sentence, place) from error
        if cells is None:
            return
        yield place, cells
