"""What every test stands on."""

import os
from pathlib import Path

os.environ.setdefault(
    "KITSHARE_SECRET_KEY", "only for tests, and long enough that the deployment check is content with it"
)

import hypothesis
import pytest
from django.conf import settings as project
from django.db import connection
from django.test import override_settings

pytest_plugins = ["tests.world", "tests.readers", "tests.heated"]

# How long an example takes says more about the machine than about the code.
hypothesis.settings.register_profile("kitshare", deadline=None)
hypothesis.settings.load_profile("kitshare")

PLAIN_STATIC = {
    **project.STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}


@pytest.fixture(scope="session", autouse=True)
def plain_site(tmp_path_factory):
    """No manifest of collected files, and a quick password hash: before any server starts."""
    quick = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    static = tmp_path_factory.mktemp("static")
    with override_settings(
        STORAGES=PLAIN_STATIC, PASSWORD_HASHERS=quick, WHITENOISE_AUTOREFRESH=True, STATIC_ROOT=static
    ):
        yield


@pytest.fixture(autouse=True)
def own_photos(settings, tmp_path):
    """Photos in a folder of their own."""
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def asked_at_once(monkeypatch):
    """What a test wrote stands in its own transaction, which no other thread sees: each check is made by the test's own."""

    def asked(check, at):
        seen = check(at)
        return lambda seconds: seen

    monkeypatch.setattr("kitshare.watch.probes.asked", asked)


# A test that opens no database says the same whatever the engine: the run on PostgreSQL leaves those to the one on SQLite.
OPENS_ONE = {"db", "transactional_db", "django_db_setup", "live_server"}
CHOOSES_ITS_OWN = {"django_db", "race", "needs_postgresql", "needs_redis", "browser"}


# Begun first, so that at the end no core waits for the other. None of these empties the database after it.
LONG = {"test_every_address.py", "test_race.py", "test_yard.py", "test_workshop.py", "test_try.py", "test_readme.py"}


# Where time is short (`.ci/run`), single pages are tried on SQLite alone: on PostgreSQL all of them are opened with the whole
# demonstration behind them, by a coordinator and by a stranger, and each form is sent what no form should take.
PAGES = Path(__file__).parent / "web"
ALL_PAGES = "test_every_address.py"


def _is_single_page(item):
    return os.environ.get("KITSHARE_PAGES_ONCE") == "yes" and PAGES in item.path.parents and item.path.name != ALL_PAGES


def pytest_collection_modifyitems(config, items):
    items.sort(key=lambda item: item.path.name not in LONG)
    if connection.vendor != "postgresql":
        return
    blind = [
        item
        for item in items
        if item.get_closest_marker("one_engine")
        or _is_single_page(item)
        or (
            not OPENS_ONE & set(item.fixturenames) and not CHOOSES_ITS_OWN & {mark.name for mark in item.iter_markers()}
        )
    ]
    if blind:
        config.hook.pytest_deselected(items=blind)
        left_out = set(blind)
        items[:] = [item for item in items if item not in left_out]


# What a test cannot do without; where CI is true these are there, and a test that was skipped for want of one has failed.
NEEDS = {"needs_postgresql", "needs_redis", "browser"}


@pytest.fixture(autouse=True)
def what_the_test_needs(request):
    """Skip a test whose engine is not here, and say which one that is."""
    if request.node.get_closest_marker("needs_postgresql") and connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL: name one in DATABASE_URL")
    if request.node.get_closest_marker("needs_redis") and not os.environ.get("REDIS_URL"):
        pytest.skip("needs Redis: name one in REDIS_URL")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item):
    report = yield
    needed = NEEDS & {mark.name for mark in item.iter_markers()}
    if report.skipped and needed and os.environ.get("CI") == "true":
        report.outcome = "failed"
        report.longrepr = f"Skipped where nothing may be skipped ({', '.join(sorted(needed))}): {report.longrepr}"
    return report
