"""A fresh site takes one step an app; a site of any age takes those that it lacks."""

import pytest
from django.apps import apps
from django.db.migrations.loader import MigrationLoader

OURS = [config.label for config in apps.get_app_configs() if config.name.startswith("kitshare.")]


@pytest.fixture(scope="module")
def steps():
    """Every migration of ours that stands in a file, by its app and its name."""
    loader = MigrationLoader(None, replace_migrations=False)
    return {key: step for key, step in loader.disk_migrations.items() if key[0] in OURS}


def test_a_squashed_step_stands_for_every_step_up_to_the_one_it_is_named_after(steps):
    squashed = {key: step for key, step in steps.items() if step.replaces}

    assert {app for app, _name in squashed} >= {"kits", "people", "upkeep", "bookings", "checks", "pressdays"}
    for (app, name), step in squashed.items():
        last = name.removeprefix("0001_squashed_")
        before = sorted(key for key in steps if key[0] == app and key not in squashed and key[1] <= last)
        assert step.replaces == before


def test_no_step_but_those_of_old_rows_is_left_out_of_a_squashed_one(steps):
    """What a squashed step does not do is data of a site that had some: a fresh one has none."""
    moved = {
        key
        for key, step in steps.items()
        if any(type(one).__name__ in {"RunPython", "RunSQL"} for one in step.operations)
    }

    assert moved == {
        ("kits", "0007_codes_of_what_is_there"),
        ("pressdays", "0005_kept_meaning"),
        ("upkeep", "0009_spares_counted"),
    }


# What the code of the release before would stumble over: a table or a column that it still asks for.
TAKES_AWAY = {"RemoveField", "DeleteModel", "RenameField", "RenameModel", "AlterModelTable"}


def test_the_code_of_the_release_before_runs_on_the_tables_of_this_one(steps):
    """While a server is upgraded, and after it went back: nothing is gone, and what is new may be left out by a writer."""
    released = {key for step in steps.values() for key in step.replaces}
    later = {key: step for key, step in steps.items() if key not in released and not step.replaces and not step.initial}

    taken = [key for key, step in later.items() if TAKES_AWAY & {type(one).__name__ for one in step.operations}]
    demanded = [
        f"{'.'.join(key)}: {one.model_name}.{one.name}"
        for key, step in later.items()
        for one in step.operations
        if type(one).__name__ == "AddField"
        and not (one.field.null or one.field.many_to_many or one.field.has_db_default())
    ]

    assert taken == []
    assert demanded == [], "give the field a db_default beside its default (or null=True): older code does not name it"
