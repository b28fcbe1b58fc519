"""What every test stands on."""

import os

os.environ.setdefault(
    "KITSHARE_SECRET_KEY", "only for tests, and long enough that the deployment check is content with it"
)

import pytest
from django.conf import settings as project
from django.test import override_settings

pytest_plugins = ["tests.world"]

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
