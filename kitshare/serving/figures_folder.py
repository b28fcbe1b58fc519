"""The folder in which the processes of one web server add up their figures."""

import os
from pathlib import Path


def begin_anew() -> None:
    """Before the first process begins: what those of an earlier server counted is forgotten."""
    named = os.environ.get("PROMETHEUS_MULTIPROC_DIR", "")
    if not named:
        return
    folder = Path(named)
    folder.mkdir(parents=True, exist_ok=True)
    for file in folder.glob("*.db"):
        file.unlink(missing_ok=True)
