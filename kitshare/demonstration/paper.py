"""A table that the coordinator typed from paper and has only looked at: it shows each thing that a row can be."""

import hashlib
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from kitshare.bringing import actions as bringing
from kitshare.bringing.models import BroughtFile, ComingAs, Telling
from kitshare.bringing.reading import read
from kitshare.people.models import Member

HEADINGS = "Village,Who signs,Machines,Goes out on,Back by the morning of,Fruit,Measured in,Note"


def send(*, by: Member, at: datetime, today: date) -> BroughtFile:
    """Rows that would be made, one that clashes, one that is not understood, and two that are history."""
    rows = [
        ("Linnowby", "", "Kettle", 60, "120 kg", "School press day"),
        ("st wennos cross", "", "Wren", 64, "9 crates", ""),
        ("Upper Larkenhoe", "Kofi Pellowmere", "Kettle", 67, "200 kg", "Lend us the long lead"),
        ("Fennerlow", "", "Kettle", 61, "150 kg", ""),
        ("Nether Larkenho", "", "Wren", 69, "180 kg", ""),
        ("Sorrelhythe", "", "Kettle", -390, "210 kg", ""),
        ("Coldmallow", "", "Kettle", -383, "95 kg", "Frost on the way home"),
    ]
    lines = [HEADINGS]
    for village, borrower, machines, ahead, fruit, note in rows:
        out_on = today + timedelta(days=ahead)
        lines.append(f"{village},{borrower},{machines},{out_on},{out_on + timedelta(days=2)},{fruit},,{note}")
    data = "\n".join(lines).encode()
    return bringing.keep(
        name="paper-calendar.csv",
        digest=hashlib.sha256(data).hexdigest(),
        sheet=read(data, zone=ZoneInfo("UTC")),
        coming_as=ComingAs.AGREED,
        telling=Telling.NOBODY,
        fruit_kg=None,
        by=by,
        at=at,
    )
