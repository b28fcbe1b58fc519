"""All rows from one engine to the other, in one transaction, compared one by one before it ends."""

from collections.abc import Iterator
from itertools import zip_longest
from typing import Any, Final

from django.core.management.color import no_style
from django.db import DatabaseError, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.translation import gettext as _

from kitshare.keeping.facts import LEFT_OUT, all_models, filled_tables
from kitshare.keeping.progress import Tell, tell_nobody
from kitshare.keeping.refusals import KeepingRefused

AT_ONCE: Final = 500
Model = type[models.Model]


def travelling() -> list[Model]:
    """The tables that travel, as what the code knows of them."""
    return [model for model in all_models() if model._meta.db_table not in LEFT_OUT]


def move(source: BaseDatabaseWrapper, target: BaseDatabaseWrapper, tell: Tell = tell_nobody) -> None:
    """Copy every row of a migrated database to an empty one that is migrated too; refuse what cannot come out equal."""
    unknown = set(filled_tables(source)) - {model._meta.db_table for model in travelling()}
    if unknown:
        raise KeepingRefused(
            _("The table %(table)s is none of Kitshare's: take it away first.") % {"table": min(unknown)}
        )
    with transaction.atomic(using=target.alias):
        for model in reversed(travelling()):  # what migrating wrote goes: keys are the source's
            models.QuerySet(model, using=target.alias)._raw_delete(target.alias)
        models_of_all = travelling()
        for number, model in enumerate(models_of_all, start=1):
            tell(_("Rows are copied, table by table"), number, len(models_of_all))
            try:
                _copy(model, source, target)
            except (DatabaseError, ValueError) as wrong:
                raise KeepingRefused(
                    _("A row of %(table)s cannot be kept on the other engine: %(said)s")
                    % {"table": model._meta.db_table, "said": " ".join(str(wrong).split())}
                ) from wrong
        set_counters(target, counters(source))
        target.check_constraints()
        tell(_("Each row is compared"), 0, 0)
        _compare(source, target)


def _rows(model: Model, connection: BaseDatabaseWrapper) -> "models.QuerySet[Any]":
    return models.QuerySet(model, using=connection.alias).order_by("pk")


def _copy(model: Model, source: BaseDatabaseWrapper, target: BaseDatabaseWrapper) -> None:
    batch: list[Any] = []
    for row in _rows(model, source).iterator(chunk_size=AT_ONCE):
        batch.append(row)
        if len(batch) == AT_ONCE:
            _write(model, batch, target)
            batch = []
    _write(model, batch, target)


def _write(model: Model, batch: list[Any], target: BaseDatabaseWrapper) -> None:
    models.QuerySet(model, using=target.alias).bulk_create(batch)


def _values(model: Model, connection: BaseDatabaseWrapper) -> Iterator[tuple[Any, ...]]:
    names = [field.attname for field in model._meta.local_concrete_fields]
    for row in _rows(model, connection).values_list(*names).iterator(chunk_size=AT_ONCE):
        yield tuple(bytes(one) if isinstance(one, memoryview) else one for one in row)


def _compare(source: BaseDatabaseWrapper, target: BaseDatabaseWrapper) -> None:
    for model in travelling():
        for here, there in zip_longest(_values(model, source), _values(model, target)):
            if here != there:
                raise KeepingRefused(
                    _("A row of %(table)s came out otherwise than it went in (%(key)s): nothing was changed.")
                    % {"table": model._meta.db_table, "key": (here or there or ("?",))[0]}
                )


def counters(connection: BaseDatabaseWrapper) -> dict[str, int]:
    """The last key that each table gave out: a key of something that is gone is not given to something else."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, seq FROM sqlite_sequence")
            return {str(name): int(last) for name, last in cursor.fetchall()}
        last_of = {}
        for model in _counted():
            table = model._meta.db_table
            cursor.execute(f"SELECT last_value, is_called FROM {_sequence(connection, model)}")  # noqa: S608
            last, given = cursor.fetchone()
            if given:
                last_of[table] = int(last)
        return last_of


def set_counters(connection: BaseDatabaseWrapper, last_of: dict[str, int]) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DELETE FROM sqlite_sequence")
            for table, last in last_of.items():
                cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, last])
            return
        for line in connection.ops.sequence_reset_sql(no_style(), _counted()):
            cursor.execute(line)
        for model in _counted():
            if given := last_of.get(model._meta.db_table):
                cursor.execute("SELECT setval(%s, %s)", [_sequence(connection, model), given])


def _counted() -> list[Model]:
    return [model for model in travelling() if isinstance(model._meta.pk, models.AutoField | models.BigAutoField)]


def _sequence(connection: BaseDatabaseWrapper, model: Model) -> str:
    table, key = model._meta.db_table, model._meta.pk.column
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [connection.ops.quote_name(table), key])
        return str(cursor.fetchone()[0])
