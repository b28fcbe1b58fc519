"""Places to restore into, beside the database of the tests; and readings of all that a database holds."""

import uuid
from contextlib import closing, contextmanager

from django.apps import apps
from django.core.files.storage import FileSystemStorage
from django.db import connection, connections
from django.db.utils import ConnectionHandler

from kitshare.keeping.restoring import Place

ALIAS = "place"
BY_ITSELF = {"django_migrations"}  # with the moments at which this database took its steps


@contextmanager
def registered(alias, **told):
    """A database under an alias of its own."""
    there = ConnectionHandler({"default": told})["default"]
    there.alias = alias
    connections[alias] = there
    try:
        yield there
    finally:
        there.close()
        del connections[alias]


@contextmanager
def on_sqlite(folder, alias=ALIAS):
    """An empty place in a folder."""
    folder.mkdir(exist_ok=True)
    with registered(alias, ENGINE="django.db.backends.sqlite3", NAME=str(folder / "kitshare.sqlite3")):
        yield Place(alias, FileSystemStorage(folder / "photos"))


@contextmanager
def on_postgresql(folder, alias=ALIAS):
    """An empty database beside that of the tests, which is gone at the end."""
    folder.mkdir(exist_ok=True)
    name = f"place_{uuid.uuid4().hex[:12]}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    try:
        with registered(alias, **{**connection.settings_dict, "NAME": name, "CONN_MAX_AGE": 0}):
            yield Place(alias, FileSystemStorage(folder / "photos"))
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


def every_value(alias):
    """Every row of every table that travels, as what Python makes of it: to compare one engine with the other."""
    return {
        model._meta.db_table: [
            tuple(bytes(one) if isinstance(one, memoryview) else one for one in row)
            for row in model._base_manager.using(alias)
            .order_by("pk")
            .values_list(*(field.attname for field in model._meta.local_concrete_fields))
        ]
        for model in apps.get_models(include_auto_created=True)
        if model._meta.db_table not in {"django_session", "people_signintry", "serving_lease", "watch_round"}
    }


def every_line(there):
    """Every row of every table as the engine itself writes it out, and the counters: to compare like with like."""
    left_out = {"django_session", "people_signintry", "serving_lease", "watch_round"}
    with there.cursor() as cursor:
        tables = sorted(set(there.introspection.table_names(cursor)) - left_out)
        lines = {}
        for table in tables:
            if there.vendor == "postgresql":
                cursor.execute(f'SELECT t::text FROM "{table}" t ORDER BY 1')  # noqa: S608
            else:
                cursor.execute(f'SELECT * FROM "{table}" ORDER BY 1')  # noqa: S608
            lines[table] = cursor.fetchall()
        cursor.execute(
            "SELECT sequencename, last_value FROM pg_sequences ORDER BY 1"
            if there.vendor == "postgresql"
            else "SELECT name, seq FROM sqlite_sequence ORDER BY 1"
        )
        counters = [row for row in cursor.fetchall() if row[0].removesuffix("_id_seq") not in left_out]
    return lines, counters


def every_photo(storage, folder=""):
    folders, files = storage.listdir(folder)
    found = {}
    for name in files:
        with closing(storage.open(f"{folder}{name}")) as stream:
            found[f"{folder}{name}"] = stream.read()
    for one in folders:
        found |= every_photo(storage, f"{folder}{one}/")
    return found
