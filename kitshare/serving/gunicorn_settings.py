"""How gunicorn runs under `manage.py serve`."""

from typing import Any

from kitshare.serving import figures_folder, logs
from kitshare.serving.lifeline import hold_lifeline

worker_class = "gthread"
threads = 4
timeout = 60
graceful_timeout = 20
loglevel = "warning"
control_socket_disable = True
logconfig_dict = logs.for_gunicorn()


def on_starting(_server: Any) -> None:
    hold_lifeline()
    figures_folder.begin_anew()


def child_exit(_server: Any, worker: Any) -> None:
    figures_folder.gather(worker.pid)
