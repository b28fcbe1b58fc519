"""What was done, by whom, when, and to which things. It is only ever added to."""

from typing import Any, ClassVar, Never

from django.db import models


class EntryQuerySet(models.QuerySet["Entry"]):
    def about(self, thing: models.Model) -> "EntryQuerySet":
        """Entries that mention a thing, newest first."""
        return self.filter(mentions__kind=thing._meta.label_lower, mentions__key=thing.pk).order_by("-at", "-pk")

    def update(self, **kwargs: object) -> Never:
        raise TypeError("The logbook is only ever added to.")

    def delete(self) -> Never:
        raise TypeError("The logbook is only ever added to.")


class Entry(models.Model):
    """One line. The names are copies: the line stays true when a person or a thing is renamed or gone."""

    at = models.DateTimeField()
    by_key = models.BigIntegerField(null=True, help_text="The member who did it; empty when the site did.")
    by_name = models.CharField(max_length=120)
    deed = models.CharField(max_length=60, help_text="A stable word for the kind of deed, such as booking_agreed.")
    text = models.TextField(help_text="The sentence that people read.")

    objects: ClassVar = EntryQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["-at", "-id"], name="logbook_newest_first")]

    def __str__(self) -> str:
        return self.text

    def save(self, **kwargs: Any) -> None:
        """Add the line. There is no changing it afterwards."""
        if not self._state.adding:
            raise TypeError("The logbook is only ever added to.")
        super().save(**(kwargs | {"force_insert": True}))

    def delete(self, *args: Any, **kwargs: Any) -> Never:
        raise TypeError("The logbook is only ever added to.")


class Mention(models.Model):
    """That a line is about a thing. By kind and key, not by foreign key: history outlives what it is about."""

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="mentions")
    kind = models.CharField(max_length=60)
    key = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "key", "entry"], name="thing_mentioned_once_a_line")]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"
