"""Reads a place back after a restore: rows by number, photos by their sum, against what the file says of itself."""

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Self

from django.utils.translation import gettext as _

from kitshare.keeping import facts
from kitshare.keeping.archive import pieces
from kitshare.keeping.manifest import Manifest
from kitshare.keeping.progress import Tell, tell_nobody
from kitshare.keeping.refusals import KeepingRefused
from kitshare.keeping.restoring import Place, steps_lacking


@dataclass(frozen=True, slots=True)
class CameBack:
    """What a backup said of itself, and what was there once it was restored."""

    made_at: datetime
    project: str
    engine: str
    told: dict[str, int]  # rows by table, as the file says; without what migrating writes by itself
    back: dict[str, int]  # rows of the same tables, as they were counted
    photos: int  # each of them read back
    photos_missing: int  # of those that rows name, they were not there when the file was made
    steps: int  # by which the file is older than the code

    def as_line(self) -> str:
        return json.dumps(asdict(self) | {"made_at": self.made_at.isoformat()})

    @classmethod
    def of(cls, told: dict[str, Any]) -> Self:
        return cls(**told | {"made_at": datetime.fromisoformat(told["made_at"])})


def read_back(manifest: Manifest, *, place: Place, tell: Tell = tell_nobody) -> CameBack:
    """Look at all that was restored; refuse if anything is not what the file says.

    Where steps were taken after it, rows may rightly be others: `restore` compared them before.
    """
    tell(_("The rows are counted, table by table"), 0, 0)
    steps = steps_lacking(manifest)
    told = {table: rows for table, rows in manifest.rows.items() if table not in facts.BY_ITSELF}
    back = facts.rows_of_all(place.connection)
    for table, rows in told.items():
        if not steps and back.get(table) != rows:
            words = {"table": table, "back": back.get(table, 0), "told": rows}
            raise KeepingRefused(_("Of %(table)s %(back)d rows came back, and the file says %(told)d.") % words)
    place.connection.check_constraints()
    for number, (name, content) in enumerate(manifest.photos.items(), start=1):
        tell(_("The photos are read back"), number, len(manifest.photos))
        if _sum_of(place, name) != content.sha256:
            raise KeepingRefused(_("The photo %(name)s did not come back as it was.") % {"name": name})
    return CameBack(
        made_at=manifest.made_at,
        project=manifest.project,
        engine=manifest.engine,
        told=told,
        back={table: back.get(table, 0) for table in told},
        photos=len(manifest.photos),
        photos_missing=len(manifest.photos_missing),
        steps=steps,
    )


def _sum_of(place: Place, name: str) -> str:
    summed = hashlib.sha256()
    try:
        with place.storage.open(name) as stream:
            for piece in pieces(stream):
                summed.update(piece)
    except FileNotFoundError:
        return ""
    return summed.hexdigest()
