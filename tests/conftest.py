"""What every test stands on."""

import os

os.environ.setdefault(
    "KITSHARE_SECRET_KEY", "only for tests, and long enough that the deployment check is content with it"
)

import pytest
from django.conf import settings as project

pytest_plugins = ["tests.world"]

PLAIN_STATIC = {
    **project.STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}


@pytest.fixture(autouse=True)
def plain_settings(settings, tmp_path):
    """No manifest of collected files, a quick password hash, and photos in a folder of their own."""
    settings.STORAGES = PLAIN_STATIC
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.MEDIA_ROOT = tmp_path / "photos"
    settings.WHITENOISE_AUTOREFRESH = True
