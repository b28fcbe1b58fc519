"""How gunicorn runs on a real server, behind a proxy that speaks TLS.

What depends on the machine is read from the environment: `deploy/env.example` explains it, and `deploy/SERVER.md` has
the figures.
"""

import os
from pathlib import Path
from typing import Any, Final

from kitshare.serving import figures_folder, logs

SHARED_MEMORY: Final = Path("/dev/shm")  # noqa: S108


def _number(name: str, otherwise: int) -> int:
    return int(os.environ.get(name) or otherwise)


bind = os.environ.get("KITSHARE_BIND") or "127.0.0.1:8000"
# Pages are sums and templates, so a process fills a core: one for each, and one more while another waits for the disk.
workers = _number("KITSHARE_WEB_WORKERS", (os.cpu_count() or 1) + 1)
# Threads wait: for the database, for a photo that comes over a slow line. More of them share one core's time.
worker_class = "kitshare.serving.leaving.LeavesInOrder"
threads = _number("KITSHARE_WEB_THREADS", 4)
# A process takes few more connections than it has threads for: those that wait, wait where any process can take them.
worker_connections = 2 * threads
# A process is made anew after so many answers, so that memory that crept away comes back; never all at the same time.
max_requests = 5_000
max_requests_jitter = 1_000
# No page takes so long: whoever waits for a lock of the database gives up before (20 s). The proxy waits longer.
timeout = 60
# An answer under way at a restart is finished: a sheet with photos over a slow line is what takes long.
graceful_timeout = 30
# Connections that come while all threads are busy wait here; the rush at a season's opening is some two hundred people.
backlog = 512
# The proxy opens a connection for each request: none can be closed under a request that has just been sent.
keepalive = 0
# Only the proxy may say what the address of a request was, and whether it came by TLS.
forwarded_allow_ips = os.environ.get("KITSHARE_PROXIES") or "127.0.0.1,::1"
# Loaded once, before the processes part: they share that memory, and code that cannot be loaded is said at once.
preload_app = True
# A worker shows by a file that it lives; on a slow disk it would seem dead.
worker_tmp_dir = str(SHARED_MEMORY) if SHARED_MEMORY.is_dir() else None
loglevel = "info"
control_socket_disable = True
logconfig_dict = logs.for_gunicorn()


def on_starting(_server: Any) -> None:
    figures_folder.begin_anew()


def child_exit(_server: Any, worker: Any) -> None:
    figures_folder.gather(worker.pid)
