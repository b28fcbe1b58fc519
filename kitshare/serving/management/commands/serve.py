"""The whole site in one command: the web server, and the loop that reminds and sends."""

import errno
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from kitshare.serving import keeper


class Command(BaseCommand):
    help = "Runs the web server and the loop that reminds and sends, and starts again whichever dies."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--workers", type=int, default=2)
        parser.add_argument("--every", type=int, default=60, metavar="SECONDS", help="between two rounds of the loop")

    def handle(self, *args: Any, host: str, port: int, workers: int, every: int, **options: Any) -> None:
        try:
            listening = keeper.listen(host, port)
        except (OSError, OverflowError) as error:
            raise CommandError(_why_not(host, port, error)) from None
        with listening:
            listening.set_inheritable(True)
            children = [keeper.web_server(listening, workers=workers), keeper.loop(every=every)]
            self.stdout.write(f"Serving on http://{host}:{port} (stop with Ctrl-C).")
            keeper.Keeper(children, pass_fds=(listening.fileno(),)).run()
        self.stdout.write("Stopped.")


def _why_not(host: str, port: int, error: Exception) -> str:
    code = getattr(error, "errno", None)
    if code == errno.EADDRINUSE:
        sentence = _("Port %(port)d is in use by another program: stop that one, or choose another with --port.")
        return sentence % {"port": port}
    if code == errno.EACCES:
        return _("Port %(port)d is kept for the system: choose one above 1023 with --port.") % {"port": port}
    words = {"host": host, "port": port, "error": error}
    return _("Cannot listen on %(host)s, port %(port)d: %(error)s.") % words
