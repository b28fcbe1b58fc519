"""From the bytes of a file to rows. What a file is, its first bytes say; its name is not believed."""

from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from kitshare.bringing.diary import read_diary
from kitshare.bringing.rows import MOST_BYTES, MOST_LINES, FileRefused, Sheet
from kitshare.bringing.separated import read_separated
from kitshare.bringing.text import MARKS
from kitshare.bringing.workbook import read_workbook

OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0"
ARCHIVE: Final = b"PK\x03\x04"
DIARY: Final = b"BEGIN:VCALENDAR"


def read(data: bytes, *, zone: ZoneInfo) -> Sheet:
    """The rows of an .ics, a CSV or an .xlsx file. Moments in it become days of `zone`. Raises FileRefused."""
    if len(data) > MOST_BYTES:
        raise FileRefused(too_large())
    if not data.strip():
        raise FileRefused(_("The file is empty."))
    if data.startswith(OLD_WORKBOOK):
        raise FileRefused(_("This is a workbook of an old kind. Save it as .xlsx or as CSV, and send that."))
    if data.startswith(ARCHIVE):
        return read_workbook(data)
    if max(data.count(b"\n"), data.count(b"\r")) > MOST_LINES:
        raise FileRefused(_("more lines than any list of bookings has. Send it in parts."), MOST_LINES)
    return read_diary(data, zone=zone) if _is_diary(data) else read_separated(data)


def too_large() -> str:
    return _("The file is larger than 2 MB, and was not read. Send only the bookings, or send them in parts.")


def _is_diary(data: bytes) -> bool:
    beginning = data[:200]
    for mark, encoding in MARKS:
        if data.startswith(mark):
            beginning = data[len(mark) : 200].decode(encoding, "ignore").encode()
            break
    return beginning.lstrip().upper().replace(b"\0", b"").startswith(DIARY)
