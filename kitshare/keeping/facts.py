"""What a backup must know of a database: its tables, its rows, its migrations, and the photos that rows name."""

import pkgutil
from importlib import import_module
from typing import Final

from django.apps import apps
from django.core.files.storage import Storage, default_storage
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder

# Who is signed in, who tried to, which process does what and when it last did: nobody needs it a week later, a stolen
# session opens the site, and all of it is written in a place that is still empty.
LEFT_OUT: Final = ("django_session", "people_signintry", "serving_lease", "watch_round")
# What migrating fills by itself.
BY_ITSELF: Final = ("django_migrations", "django_content_type", "auth_permission")


def all_models() -> list[type[models.Model]]:
    """Every table that the code knows, those between two things too.

    Models stand in several modules of an app, and a command that shows no page has not imported all of them.
    """
    for config in apps.get_app_configs():
        for one in pkgutil.iter_modules([config.path]):
            if one.name.endswith("_models"):
                import_module(f"{config.name}.{one.name}")
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.managed and not model._meta.proxy]


def tables(connection: BaseDatabaseWrapper) -> list[str]:
    """Every table of the database, in the order of its name."""
    with connection.cursor() as cursor:
        return sorted(connection.introspection.table_names(cursor))


def rows_of_all(connection: BaseDatabaseWrapper) -> dict[str, int]:
    """How many rows each table has, whatever it is."""
    counted = {}
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            cursor.execute(f"SELECT COUNT(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608
            counted[table] = int(cursor.fetchone()[0])
    return counted


def rows_by_table(connection: BaseDatabaseWrapper) -> dict[str, int]:
    """How many rows each table has; of those that do not travel, nothing."""
    return {table: rows for table, rows in rows_of_all(connection).items() if table not in LEFT_OUT}


def filled_tables(connection: BaseDatabaseWrapper) -> list[str]:
    """The tables in which somebody wrote something."""
    return [table for table, rows in rows_by_table(connection).items() if rows and table not in BY_ITSELF]


def migrations(connection: BaseDatabaseWrapper) -> list[tuple[str, str]]:
    """The steps that were taken in this database, in order."""
    return sorted(MigrationRecorder(connection).applied_migrations())


def strangers(connection: BaseDatabaseWrapper) -> list[str]:
    """Tables that are none of ours: the place belongs to somebody else too."""
    return sorted(set(tables(connection)) - {model._meta.db_table for model in all_models()} - {"django_migrations"})


def photos_named(connection: BaseDatabaseWrapper) -> list[str]:
    """The names of all photos that a row of this database has, also where it is older than the code."""
    named: set[str] = set()
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        for model in all_models():
            table = model._meta.db_table
            wanted = [one for one in model._meta.local_fields if isinstance(one, models.FileField) and table in there]
            if not wanted:
                continue
            columns = {one.name for one in connection.introspection.get_table_description(cursor, table)}
            for field in wanted:
                if field.column in columns:
                    name = connection.ops.quote_name(str(field.column))
                    cursor.execute(f"SELECT DISTINCT {name} FROM {connection.ops.quote_name(table)}")  # noqa: S608
                    named.update(str(row[0]) for row in cursor.fetchall() if row[0])
    return sorted(named)


def holds_photos(storage: Storage = default_storage, folder: str = "") -> bool:
    """Whether anything lies in the place for photos, however deep."""
    try:
        folders, files = storage.listdir(folder)
    except FileNotFoundError:
        return False
    return bool(files) or any(holds_photos(storage, f"{folder}/{one}" if folder else one) for one in folders)
