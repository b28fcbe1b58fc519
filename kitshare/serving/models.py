"""Work that only one process may do at a time, and who does it."""

from typing import Final

from django.db import models

# The work of a beat: whoever has its lease rings for all that is due.
RINGING: Final = "ringing"


class Lease(models.Model):
    """Somebody does a work alone until a moment, and must say so again before it."""

    work = models.CharField(max_length=60)
    holder = models.CharField(max_length=120, help_text="One process: where it runs, and a word of its own.")
    until = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["work"], name="lease_one_a_work")]

    def __str__(self) -> str:
        return f"{self.work}: {self.holder}"
