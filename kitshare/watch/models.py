"""When each work of the clock was last done."""

from django.db import models


class RoundName(models.TextChoices):
    REMINDERS = "reminders"  # the reminders that are due were written
    WORKER = "worker"  # a worker did any task to its end


class Round(models.Model):
    """The last time that a work was done to its end: one row a work, which each round writes anew."""

    name = models.CharField(max_length=20, choices=RoundName)
    done_at = models.DateTimeField()
    seconds = models.FloatField(help_text="How long it took.")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["name"], name="round_one_a_name")]

    def __str__(self) -> str:
        return f"{self.name}: {self.done_at}"
