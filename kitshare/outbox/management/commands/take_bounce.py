"""One letter of a mail server, from standard input: what it says came back is noted.

For a mail server that hands letters to the scheme's sending address to a program, such as `| manage.py take_bounce`.
"""

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.outbox import bounces


class Command(BaseCommand):
    help = "Reads one letter from standard input, and notes which letters of this site it says came back."

    def handle(self, *args: Any, **options: Any) -> None:
        """Whatever it reads, it ends well: a mail server would only try again with the same letter."""
        taken = bounces.take(raw=sys.stdin.buffer.read(), at=timezone.now())
        if not taken.letters:
            self.stdout.write(_("No letter of this site is known to have come back by this."))
            return
        said = ngettext(
            "%(count)d letter came back from %(addresses)s.",
            "%(count)d letters came back from %(addresses)s.",
            taken.letters,
        )
        self.stdout.write(said % {"count": taken.letters, "addresses": ", ".join(taken.addresses)})
