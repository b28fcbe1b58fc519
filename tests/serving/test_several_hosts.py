"""What two hosts need to do the work of one site, and that nothing else of ours lies on one of them."""

import ast

import pytest
from django.core import checks as django_checks

from kitshare import settings as project
from kitshare.serving.checks import several_hosts_share
from tests.architecture.source import modules

# Whoever works with the data folder or a scratch folder. Each is of one host by its nature: backups and the note of the last,
# those that are tried, what is free on a disk, the key of an embedded site, settings themselves, collected files.
ON_ONE_HOST = {
    "kitshare/engine.py",
    "kitshare/keeping/management/commands/backup.py",
    "kitshare/keeping/kept.py",
    "kitshare/keeping/places.py",
    "kitshare/keeping/record.py",
    "kitshare/keeping/rehearsing.py",
    "kitshare/keeping/restoring.py",
    "kitshare/keeping/telling.py",
    "kitshare/serving/static.py",
    "kitshare/settings.py",
    "kitshare/watch/standing.py",
    "kitshare/web/watch/sending.py",
    "kitshare/web/watch/trying.py",
    "kitshare/works/kinds.py",
}
FOLDERS = {"DATA", "MEDIA_ROOT", "STATIC_ROOT", "static_root", "tempfile", "fdopen", "write_text", "write_bytes"}


def test_nothing_that_a_page_needs_is_kept_in_a_folder_or_in_one_process():
    touching, caching = set(), set()
    for name, tree in modules().items():
        for node in ast.walk(tree):
            words = {getattr(node, "attr", ""), getattr(node, "id", ""), getattr(node, "module", "") or ""}
            words |= {alias.name for alias in getattr(node, "names", []) if isinstance(alias, ast.alias)}
            touching |= {name} if words & FOLDERS else set()
            caching |= {name} if "django.core.cache" in words or "cache_page" in words else set()

    assert touching <= ON_ONE_HOST
    assert {"kitshare/settings.py", "kitshare/keeping/restoring.py"} <= touching
    assert caching == set()


def test_sessions_are_rows_and_a_word_for_the_next_page_goes_with_its_reader(settings):
    assert settings.SESSION_ENGINE == "django.contrib.sessions.backends.db"
    assert settings.MESSAGE_STORAGE == "django.contrib.messages.storage.fallback.FallbackStorage"
    assert not hasattr(project, "CACHES")


@pytest.fixture
def shared(settings):
    """All that hosts share, as far as settings say it."""
    settings.SEVERAL_HOSTS = settings.SECRET_KEY_IS_GIVEN = True
    settings.CELERY_BROKER_URL = "redis://one.example.org/0"
    settings.STORAGES = {**settings.STORAGES, "default": {"BACKEND": "kitshare.serving.photos_on_s3.PhotosOnS3"}}
    return settings


def numbers(found: list[django_checks.CheckMessage]) -> list[str | None]:
    return [one.id for one in found]


def test_what_is_not_shared_is_an_error_where_there_are_several(shared, monkeypatch):
    monkeypatch.setitem(shared.DATABASES["default"], "ENGINE", "django.db.backends.postgresql")
    assert several_hosts_share() == []

    monkeypatch.setitem(shared.DATABASES["default"], "ENGINE", "django.db.backends.sqlite3")
    shared.SECRET_KEY_IS_GIVEN, shared.CELERY_BROKER_URL = False, ""
    shared.STORAGES = {"default": {"BACKEND": "django.core.files.storage.FileSystemStorage"}}

    assert numbers(several_hosts_share()) == ["kitshare.E005", "kitshare.E006", "kitshare.E007", "kitshare.E008"]
    shared.SEVERAL_HOSTS = False
    assert several_hosts_share() == []
