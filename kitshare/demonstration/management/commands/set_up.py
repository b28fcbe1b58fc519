"""Everything between new packages and a site that can be served, in one process so that a start is quick."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand

from kitshare.people.models import Scheme


class Command(BaseCommand):
    help = "Migrates the database and collects the style sheets; the last line says whose data the site holds."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--demonstration", action="store_true", help="fill an empty site with invented data")

    def handle(self, *args: Any, demonstration: bool, **options: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        call_command("collectstatic", verbosity=0, interactive=False)
        if demonstration and Scheme.objects.current() is None:
            call_command("load_demonstration", verbosity=0)
        scheme = Scheme.objects.current()
        self.stdout.write("none" if scheme is None else "invented" if scheme.is_demonstration else "real")
