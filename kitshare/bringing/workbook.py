"""Bookings in a workbook (.xlsx), read row by row and within bounds: a small file can unpack to a vast one."""

import io
import zipfile
from collections.abc import Iterator
from typing import Any, Final
from xml.etree.ElementTree import ParseError

import openpyxl
from defusedxml import DefusedXmlException
from django.utils.translation import gettext as _
from openpyxl.utils.exceptions import InvalidFileException

from kitshare.bringing.rows import FileRefused, Sheet
from kitshare.bringing.table import Cell, Formula, Line, read_lines

# XML takes some thirty times its length in memory, and styles more time than cells. Measured at the bounds: two seconds
# and 110 MB. Two thousand bookings with long notes come to 2 MB.
MOST_OF_CELLS: Final = 4_000_000
MOST_BESIDE_CELLS: Final = 400_000  # each of the other texts in the archive
CELLS: Final = ("xl/worksheets/", "xl/sharedStrings")
XML: Final = (".xml", ".rels", ".vml")
MOST_FILES: Final = 500
MOST_ROWS_OF_A_SHEET: Final = 10_000
MOST_COLUMNS: Final = 40

# What openpyxl raises for a file that is damaged in one way or another; which one, its authors do not promise.
DAMAGED: Final = (
    ArithmeticError, AssertionError, AttributeError, InvalidFileException, LookupError, OSError, ParseError, TypeError,
    ValueError, zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, zipfile.zlib.error,  # type: ignore[attr-defined]
)  # fmt: skip


def read_workbook(data: bytes) -> Sheet:
    """The bookings of the first sheet. Raises FileRefused."""
    try:
        _check_size(data)
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        try:
            if not book.worksheets:
                raise FileRefused(_("The workbook has no sheet with cells."))
            sheet = book.worksheets[0]
            remarks = []
            if len(book.worksheets) > 1:
                remarks.append(_("Only the first sheet is read, “%(name)s”.") % {"name": sheet.title})
            return read_lines(_lines(sheet), remarks=remarks)
        finally:
            book.close()
    except DefusedXmlException as error:
        raise FileRefused(_("The workbook holds what no spreadsheet writes into one, and is not read.")) from error
    except DAMAGED as error:
        sentence = _("This is no workbook that can be read. Save it as .xlsx or as CSV, and send that.")
        raise FileRefused(sentence) from error


def _check_size(data: bytes) -> None:
    """By what the archive says of itself: no more than that is ever unpacked, whatever is in it."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        files = archive.infolist()
    cells = sum(file.file_size for file in files if file.filename.startswith(CELLS))
    beside = [file.file_size for file in files if file.filename.endswith(XML) and not file.filename.startswith(CELLS)]
    if len(files) > MOST_FILES or cells > MOST_OF_CELLS or max(beside, default=0) > MOST_BESIDE_CELLS:
        raise FileRefused(_("The workbook unpacks to far more than a list of bookings. Copy the rows to a new one."))


def _lines(sheet: Any) -> Iterator[Line]:
    # What the file says about its own size may be wrong, and rows beyond it would be passed over without a word.
    sheet.reset_dimensions()
    for place, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS), start=1):
        if place > MOST_ROWS_OF_A_SHEET:
            sentence = _("the sheet goes on and on. Copy the rows with bookings to a new one.")
            raise FileRefused(sentence, MOST_ROWS_OF_A_SHEET)
        yield place, [_cell(cell) for cell in cells]


def _cell(cell: Any) -> Cell:
    if cell.data_type == "f":
        return Formula()
    if cell.data_type == "e":
        return str(cell.value)
    return cell.value  # type: ignore[no-any-return]
