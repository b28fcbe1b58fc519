"""Walks once through the main loop of a running site that holds fresh demonstration data."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.demonstration.browsing import StepFailed
from kitshare.demonstration.walk import Walk


class Command(BaseCommand):
    help = "Walks through the main loop over HTTP and prints what each step saw. It changes the data: use fresh ones."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--address", default="http://127.0.0.1:8000", help="where the site answers")

    def handle(self, *args: Any, **options: Any) -> None:
        walk = Walk(
            options["address"], today=timezone.localdate(), tick=lambda: call_command("tick", stdout=self.stdout)
        )
        number = 0
        try:
            for number, (step, seen) in enumerate(walk.steps(), start=1):
                self.stdout.write(f"{number:>2}. {step}.\n    saw: {seen}")
        except StepFailed as failure:
            words = {"number": number + 1, "failure": failure}
            raise CommandError(_("Step %(number)d did not go: %(failure)s") % words) from failure
        self.stdout.write(f"{number} steps went through.")
