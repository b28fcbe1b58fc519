"""Fills an empty site with invented data."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from kitshare.demonstration.people import PASSWORD, SCHEME
from kitshare.demonstration.story import tell
from kitshare.people.models import Scheme


class Command(BaseCommand):
    help = "Fills an empty site with the invented demonstration scheme. A site that has a scheme is left as it is."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.EMAIL_ADDRESS:
            raise CommandError(
                _("A mail server is set. Demonstration data is for trying out: it would mail invented people.")
            )
        if Scheme.objects.exists():
            raise CommandError(_("There is a scheme already, and it was left as it is."))
        tell(now=timezone.now())
        self.stdout.write(f"{SCHEME}: invented people, villages, kits and bookings. Each password is {PASSWORD}.")
