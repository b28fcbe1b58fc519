"""Promises about the code that no linter in use can hold."""

import ast
import tomllib

import pytest
from django.apps import apps

from tests.architecture.source import ROOT, decorators, functions, modules

LONGEST_MODULE = 300
LONGEST_FUNCTION = 40


def layers() -> list[str]:
    """The apps from the top down, as the one rule about imports names them."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    return contracts[0]["layers"]


def test_foreign_keys_point_down_like_imports():
    """A key may name its model by a string, which no rule about imports can see."""
    height = {name: -place for place, name in enumerate(layers())}
    looked_at = 0
    for model in apps.get_models(include_auto_created=True):
        for field in model._meta.get_fields():
            target = field.related_model if field.concrete and field.is_relation else None
            if target is None or not (
                model.__module__.startswith("kitshare.") and target.__module__.startswith("kitshare.")
            ):
                continue
            looked_at += 1
            here, there = model._meta.app_label, target._meta.app_label
            assert height[here] >= height[there], f"{model.__name__}.{field.name} points up, to {there}"

    assert looked_at > 20


def test_no_import_hides_in_a_function():
    hidden = [
        f"{where}: {ast.unparse(node)}"
        for where, function in functions()
        for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]

    assert hidden == []


def test_nothing_is_imported_for_types_alone():
    assert [name for name, tree in modules().items() if "TYPE_CHECKING" in ast.unparse(tree)] == []


def test_there_are_no_signals():
    heard = [
        name
        for name, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        and (node.module or "").startswith(("django.dispatch", "django.db.models.signals"))
    ]

    assert heard == []


def test_a_deed_is_told_everything_by_name():
    """`book_kit(village=..., by=..., at=...)`: a call reads like the deed, and no two arguments can change places."""
    deeds = [(where, function) for where, function in functions() if "deed" in decorators(function)]
    by_place = [where for where, function in deeds if function.args.args or function.args.posonlyargs]

    assert len(deeds) > 20
    assert by_place == []


def test_only_views_tasks_commands_and_the_beat_read_the_clock():
    allowed = ("kitshare/web/", "/tasks.py", "/management/commands/", "kitshare/demonstration/", "serving/beat.py")
    readers = [
        f"{name}:{node.lineno}"
        for name, tree in modules().items()
        if not any(part in name for part in allowed)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func) in {"timezone.now", "timezone.localdate", "datetime.now", "date.today", "time.time"}
    ]

    assert readers == []


def test_pages_never_write_past_the_actions():
    writes = {"save", "delete", "create", "bulk_create", "bulk_update", "get_or_create", "update_or_create"}
    written = [
        f"{name}:{node.lineno} {ast.unparse(node.func)}"
        for name, tree in modules().items()
        if name.startswith("kitshare/web/")
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in writes
    ]

    assert written == []


def test_what_a_command_refuses_with_is_marked_for_translation():
    """A sentence put straight into `CommandError` is one that a translator never sees."""
    unmarked = [
        f"{name}:{node.lineno}"
        for name, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "CommandError"
        if any(isinstance(said, ast.JoinedStr) or isinstance(getattr(said, "value", None), str) for said in node.args)
    ]

    assert unmarked == []


def test_what_stops_a_machine_is_asked_of_fitness_alone():
    """A second query of faults or overdue plans would be a second answer, and one of the two would be wrong."""
    verdicts = {"stopping", "stopping_machine", "stopping_booking", "tests_overdue", "overdue"}
    askers = {
        (name, ast.unparse(node.func))
        for name, tree in modules().items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in verdicts
        if not ast.unparse(node.func).startswith(("Booking.", "fitness."))
    }

    assert {name for name, _ in askers} == {
        "kitshare/upkeep/fitness.py",
        *("kitshare/upkeep/models.py", "kitshare/upkeep/care_models.py"),  # what the words mean
    }


def test_modules_and_functions_stay_short_enough_to_read():
    long_modules = [name for name in modules() if len((ROOT / name).read_text().splitlines()) > LONGEST_MODULE]
    long_functions = [
        where
        for where, function in functions()
        if (function.end_lineno or 0) - function.body[0].lineno >= LONGEST_FUNCTION
    ]

    assert (long_modules, long_functions) == ([], [])


@pytest.mark.parametrize("app", [app for app in layers() if (ROOT / "kitshare" / app / "models.py").exists()])
def test_every_promise_of_the_database_has_a_name_and_a_test_that_tries_to_break_it(app):
    tests = "\n".join(file.read_text() for file in (ROOT / "tests").rglob("test_*.py"))
    names = {
        constraint.name for model in apps.get_app_config(app).get_models() for constraint in model._meta.constraints
    }

    assert {name for name in names if name not in tests} == set()
