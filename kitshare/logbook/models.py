"""What was done, by whom, when, and to which things. It is only ever added to."""

from collections.abc import Iterable
from typing import Any, ClassVar, Final, Never, TypeVar

from django.db import models
from django.db.models import Q

Row = TypeVar("Row", bound=models.Model)

REFUSAL: Final = "The logbook is only ever added to."


class OnlyAdded(models.QuerySet[Row]):
    """Rows that are added, and never changed or taken away. The bulk ways of Django all come through here."""

    def update(self, **kwargs: object) -> Never:
        raise TypeError(REFUSAL)

    def bulk_update(self, *args: object, **kwargs: object) -> Never:
        raise TypeError(REFUSAL)

    def bulk_create(self, objs: Iterable[Row], *args: Any, **kwargs: Any) -> list[Row]:
        if kwargs.get("update_conflicts"):
            raise TypeError(REFUSAL)
        return super().bulk_create(objs, *args, **kwargs)

    def delete(self) -> Never:
        raise TypeError(REFUSAL)


class AddedRow(models.Model):
    """A row that can be saved once."""

    class Meta:
        abstract = True

    def save(self, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError(REFUSAL)
        super().save(**(kwargs | {"force_insert": True}))

    def delete(self, *args: Any, **kwargs: Any) -> Never:
        raise TypeError(REFUSAL)


class EntryQuerySet(OnlyAdded["Entry"]):
    def about(self, thing: models.Model) -> "EntryQuerySet":
        """Entries that mention a thing, newest first."""
        return self.filter(mentions__kind=thing._meta.label_lower, mentions__key=thing.pk).order_by("-at", "-pk")

    def before(self, entry: "Entry") -> "EntryQuerySet":
        """Entries older than one."""
        return self.filter(Q(at__lt=entry.at) | Q(at=entry.at, pk__lt=entry.pk))


class MentionQuerySet(OnlyAdded[Any]):
    """What entries are about."""


class Entry(AddedRow):
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


class Mention(AddedRow):
    """That a line is about a thing. By kind and key, not by foreign key: history outlives what it is about."""

    # Without an index of its own: the one of the constraint begins with it.
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="mentions", db_index=False)
    kind = models.CharField(max_length=60)
    key = models.BigIntegerField()

    objects: ClassVar = MentionQuerySet.as_manager()

    class Meta:
        # Each question has an index that answers it wholly: what a line is about, and which lines are about a thing.
        # With one that begins with the kind alone, SQLite walks every mention of that kind once a line.
        constraints = [models.UniqueConstraint(fields=["entry", "kind", "key"], name="thing_mentioned_once_a_line")]
        indexes = [models.Index(fields=["kind", "key", "entry"], name="mention_of_a_thing")]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"
