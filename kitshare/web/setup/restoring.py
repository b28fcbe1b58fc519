"""The line that brings a site back from a backup, for whoever opens the first page of an empty one."""

import os
import shlex
import sys

from django.conf import settings


def restore_command() -> str:
    """As it is typed on this machine; on a public address, where whoever comes may read it, without what is where."""
    if settings.BEHIND_TLS:
        return "manage.py restore FILE"
    python = sys.executable.removeprefix(f"{settings.ROOT}{os.sep}")
    data = os.environ.get("KITSHARE_DATA", "")
    words = [f"KITSHARE_DATA={shlex.quote(data)}"] if data else []
    return " ".join([*words, shlex.quote(python), "manage.py", "restore", "FILE"])
