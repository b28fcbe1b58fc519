"""A system check that keeps a half filled place from being used: most commands, `serve` among them, stop at it."""

from collections.abc import Sequence
from typing import Any

from django.core import checks
from django.utils.translation import gettext as _

from kitshare.keeping.restoring import begun_file


def no_restore_is_under_way(app_configs: Sequence[Any] | None = None, **_unused: Any) -> list[checks.CheckMessage]:
    """A restore that was begun has ended well, or the site does not start."""
    if not begun_file().exists():
        return []
    said = _("A restore was begun here and did not end, so the place is half filled: run it again with the same file.")
    return [checks.Error(said, id="kitshare.E004")]


def announce() -> None:
    checks.register(no_restore_is_under_way)
