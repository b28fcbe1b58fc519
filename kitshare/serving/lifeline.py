"""How a process of an embedded site notices that its parent is gone, even one that was killed outright."""

import os
import signal
import threading
from typing import Final

LIFELINE: Final = "KITSHARE_LIFELINE"


def hold_lifeline() -> None:
    """Stop this process as soon as the parent is gone. Without a parent that gave us a pipe, do nothing."""
    pipe = os.environ.pop(LIFELINE, "")
    if not pipe:
        return

    def watch() -> None:
        os.read(int(pipe), 1)  # nothing is ever written: this returns when the last writer is gone
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=watch, name="lifeline", daemon=True).start()
