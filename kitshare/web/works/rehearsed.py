"""What a try of a backup found, as its page shows it."""

from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.keeping.telling import THINGS
from kitshare.works.models import Work


@dataclass(frozen=True, slots=True)
class Counted:
    """One kind of thing: as the file says, as it came back, and as the site had it at that moment."""

    thing: str
    told: str
    back: str
    today: str


@dataclass(frozen=True, slots=True)
class Rehearsed:
    rows: list[Counted]
    notes: list[str]


def rehearsed(work: Work) -> Rehearsed | None:
    if not work.found:
        return None
    return Rehearsed(_rows(work.found), _notes(work.found))


def _rows(found: dict[str, Any]) -> list[Counted]:
    told, back, today = found["told"], found["back"], found["today"]
    rows = [
        Counted(capfirst(str(thing)), _n(told[table]), _n(back[table]), _n(today.get(table)))
        for table, thing in THINGS.items()
        if table in told
    ]
    photos = Counted(_("Photos"), _n(found["photos"]), _n(found["photos"]), _n(today.get("photos")))
    whole = Counted(_("Rows in all"), _n(sum(told.values())), _n(sum(back.values())), "")
    return [*rows, photos, whole]


def _notes(found: dict[str, Any]) -> list[str]:
    notes = [
        _(
            "Compared: every sum in the file; the rows, table by table, with the number that the file says; every "
            "photo, read back, with its sum; that whatever a row refers to is there."
        ),
    ]
    if found["steps"]:
        words = ngettext(
            "The file is older than this version by %(count)d step, taken after its rows had been compared.",
            "The file is older than this version by %(count)d steps, taken after its rows had been compared.",
            found["steps"],
        )
        notes.append(words % {"count": found["steps"]})
    if found["photos_missing"]:
        words = ngettext(
            "%(count)d photo was not in the file: it was not there when the backup was made.",
            "%(count)d photos were not in the file: they were not there when the backup was made.",
            found["photos_missing"],
        )
        notes.append(words % {"count": found["photos_missing"]})
    notes.append(_("The place into which it was restored was thrown away."))
    return notes


def _n(number: int | None) -> str:
    return "" if number is None else number_format(number, use_l10n=True, force_grouping=True)
