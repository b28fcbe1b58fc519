"""Commands for scripts: refused input is one sentence on standard error and exit code 1, never a traceback."""

import sys
from argparse import ArgumentParser
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _


def between(option: str, low: object, high: object, given: object) -> str:
    """The sentence for an option whose value lies outside of what is known."""
    words = {"option": option.replace("_", "-"), "low": _plain(low), "high": _plain(high), "given": _plain(given)}
    return _("--%(option)s must lie between %(low)s and %(high)s, and %(given)s does not.") % words


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


class ScriptedCommand(BaseCommand):
    """A command that needs neither a database nor system checks. Raise `CommandError` with a whole sentence."""

    requires_system_checks: list[str] = []
    _called_from_command_line = False  # Django's own mark, set by its command line

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Let wrong options end as wrong values do, not with a page of usage and exit code 2."""
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        if self._called_from_command_line:
            setattr(parser, "error", self._refuse)  # noqa: B010 - argparse asks for a subclass, Django builds the parser
        return parser

    def execute(self, *args: Any, **options: Any) -> str | None:
        """Say a refusal without the name of its class, unless a traceback was asked for."""
        try:
            return super().execute(*args, **options)
        except CommandError as refused:
            if self._called_from_command_line and not options.get("traceback"):
                self._refuse(str(refused))
            raise

    def add_json(self, parser: ArgumentParser) -> None:
        """Add the switch between sentences and one JSON object."""
        parser.add_argument("--json", action="store_true", dest="as_json", help="print one JSON object")

    def _refuse(self, message: str) -> NoReturn:
        sentence = message[:1].upper() + " ".join(message[1:].split())
        self.stderr.write(sentence if sentence.endswith((".", "?", "!")) else f"{sentence}.")
        sys.exit(1)
