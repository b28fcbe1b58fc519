"""What a backup says of itself, in its first words: `manifest.json`."""

import json
import tomllib
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import PurePosixPath
from typing import Any, Final

from django.conf import settings
from django.utils.translation import gettext as _

from kitshare.keeping.refusals import KeepingRefused

FORMAT: Final = 1
NAME: Final = "manifest.json"
SETTINGS: Final = "settings.json"
DATABASES: Final = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
PHOTOS: Final = "photos/"


@dataclass(frozen=True, slots=True)
class Content:
    """One thing in the file: how long it is, and its SHA-256."""

    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """Of which moment the backup is, who made it, and what must be in it."""

    made_at: datetime
    engine: str
    rows: dict[str, int]
    migrations: list[tuple[str, str]]
    contents: dict[str, Content]
    photos_missing: list[str] = field(default_factory=list)
    project: str = ""
    format: int = FORMAT

    @property
    def database(self) -> str:
        """The name of the database within the file."""
        return DATABASES[self.engine]

    @property
    def photos(self) -> dict[str, Content]:
        """The photos, by the name under which the storage has them."""
        return {name.removeprefix(PHOTOS): of for name, of in self.contents.items() if name.startswith(PHOTOS)}

    def as_text(self) -> str:
        return json.dumps(asdict(self) | {"made_at": self.made_at.isoformat()}, indent=1, ensure_ascii=False)


def project_version() -> str:
    """The version that stands in pyproject.toml, beside which the site runs."""
    try:
        told = tomllib.loads((settings.ROOT / "pyproject.toml").read_text())
    except OSError:
        return ""
    return str(told["project"]["version"])


def read(text: bytes) -> Manifest:
    """The manifest of a file, or a refusal: nothing in it is believed before its kind was looked at."""
    try:
        told = json.loads(text)
        number = told["format"]
        if isinstance(number, int) and number > FORMAT:
            raise KeepingRefused(
                _("The file was made by a newer Kitshare (its format is %(theirs)s, this one reads up to %(ours)s).")
                % {"theirs": number, "ours": FORMAT}
            )
        return _read(told)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as wrong:
        raise KeepingRefused(_("The file is no backup that Kitshare made: what it says of itself is wrong.")) from wrong


def _read(told: dict[str, Any]) -> Manifest:
    contents = {
        _name(name): Content(_count(of["size"]), _digest(of["sha256"])) for name, of in told["contents"].items()
    }
    manifest = Manifest(
        format=_count(told["format"]),
        project=_text(told["project"]),
        made_at=datetime.fromisoformat(told["made_at"]),
        engine=_text(told["engine"]),
        rows={_text(table): _count(number) for table, number in told["rows"].items()},
        migrations=[(_text(app), _text(name)) for app, name in told["migrations"]],
        photos_missing=[_text(name) for name in told["photos_missing"]],
        contents=contents,
    )
    if manifest.format != FORMAT or manifest.made_at.tzinfo is None:
        raise ValueError(told["format"])
    others = {name for name in contents if not name.startswith(PHOTOS)}
    if others != {manifest.database, SETTINGS}:
        raise ValueError(others)
    return manifest


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(value)
    return value


def _count(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise TypeError(value)
    return value


def _digest(value: object) -> str:
    words = _text(value)
    if len(words) != 64 or set(words) - set("0123456789abcdef"):
        raise ValueError(words)
    return words


def _name(value: str) -> str:
    """A name that stays within the place for photos, whatever the system on which it is read."""
    path = PurePosixPath(value)
    if path.is_absolute() or path.as_posix() != value or {"..", "."} & set(path.parts) or set(value) & set("\\:\0"):
        raise ValueError(value)
    return value
