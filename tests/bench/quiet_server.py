"""The web server of a real site, whose log has errors alone: that days were taken meanwhile is what the rush is about."""

import logging
from typing import Any

from kitshare.serving.gunicorn_server import *  # noqa: F403


def post_worker_init(_worker: Any) -> None:
    logging.disable(logging.WARNING)
