"""Settings, all of them from the environment; with none set, the site runs embedded on SQLite.

`deploy/env.example` explains each variable to the person who runs a server.
"""

import sqlite3
from pathlib import Path
from typing import Any

import django_stubs_ext
import environ
from csp.constants import NONE, SELF
from django.utils.translation import gettext_lazy as _

from kitshare.engine import journal_mode, kept_key
from kitshare.serving import logs

django_stubs_ext.monkeypatch()

env = environ.Env()  # type: ignore[no-untyped-call]
ROOT = Path(__file__).resolve().parent.parent
DATA = Path(env.str("KITSHARE_DATA", default="") or ROOT / ".data")

DEBUG = env.bool("KITSHARE_DEBUG", default=False)
SECRET_KEY_IS_GIVEN = bool(env.str("KITSHARE_SECRET_KEY", default=""))
SEVERAL_HOSTS = env.bool("KITSHARE_SEVERAL_HOSTS", default=False)
SECRET_KEY = env.str("KITSHARE_SECRET_KEY", default="") or kept_key(DATA / "secret-key")
ALLOWED_HOSTS = env.list("KITSHARE_HOSTS", default=["127.0.0.1", "localhost", "[::1]"])
SITE_ADDRESS = env.str("KITSHARE_ADDRESS", default="http://127.0.0.1:8000")
CSRF_TRUSTED_ORIGINS = [SITE_ADDRESS]
BEHIND_TLS = SITE_ADDRESS.startswith("https://")
# Whoever opens a new site on a public address first shows with this word that they set it up.
SETUP_WORD = env.str("KITSHARE_SETUP_WORD", default="")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_tables2",
    "django_htmx",
    "csp",
    "kitshare.keeping",
    "kitshare.serving",
    "kitshare.outbox",
    "kitshare.logbook",
    "kitshare.people",
    "kitshare.kits",
    "kitshare.upkeep",
    "kitshare.bookings",
    "kitshare.bringing",
    "kitshare.checks",
    "kitshare.pressdays",
    "kitshare.watch",
    "kitshare.works",
    "kitshare.reminders",
    "kitshare.demonstration",
    "kitshare.web",
]

MIDDLEWARE = [
    "kitshare.web.watch.middleware.Answering",
    "kitshare.web.middleware.OnlyWhatBrowsersSend",
    "kitshare.web.watch.middleware.AskedByPrograms",
    "kitshare.web.middleware.TooMuchAtOnce",
    "django.middleware.security.SecurityMiddleware",
    "kitshare.serving.static.FilesOfEveryRelease",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "kitshare.web.kept.SignedOut",
    "kitshare.web.middleware.NamesTheMember",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "kitshare.web.middleware.BusyDatabase",
    "kitshare.web.middleware.SchemeOfTheSite",
]

ROOT_URLCONF = "kitshare.urls"
WSGI_APPLICATION = "kitshare.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "kitshare.web.context.frame",
            ],
            "builtins": ["kitshare.web.templatetags.kitshare"],
        },
    }
]
FORM_RENDERER = "kitshare.web.forms.Renderer"

DATABASES = {"default": env.db("DATABASE_URL", default=f"sqlite:///{DATA / 'kitshare.sqlite3'}")}
DATABASES["default"]["CONN_MAX_AGE"] = 600
DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        # Without IMMEDIATE a look followed by an insert races; with it the second writer waits its turn.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": f"PRAGMA synchronous=FULL; PRAGMA journal_mode={journal_mode(sqlite3.sqlite_version_info)};",
    }
elif pool := env.int("KITSHARE_DATABASE_POOL", default=0):
    # Django's pool hands connections out for a request each, so they are not kept by threads as well.
    DATABASES["default"]["CONN_MAX_AGE"] = 0
    DATABASES["default"].setdefault("OPTIONS", {})["pool"] = {"min_size": 1, "max_size": pool, "timeout": 5}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "people.Member"
CSRF_FAILURE_VIEW = "kitshare.web.kept.stale_form"
LOGIN_URL = "people:sign_in"
LOGIN_REDIRECT_URL = "home:home"
LOGOUT_REDIRECT_URL = "people:sign_in"
PASSWORD_HASHERS = ["kitshare.people.passwords.OneAtATime"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", _("English"))]
TIME_ZONE = "UTC"  # each request is answered in the scheme's own zone
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "kitshare.serving.static.HashedFiles"},
}
MEDIA_ROOT = DATA / "photos"
if bucket := env.str("KITSHARE_PHOTOS_S3", default=""):
    STORAGES["default"] = {
        "BACKEND": "kitshare.serving.photos_on_s3.PhotosOnS3",
        "OPTIONS": {
            "bucket_name": bucket.partition("/")[0],
            "location": bucket.partition("/")[2],
            "endpoint_url": env.str("KITSHARE_PHOTOS_S3_ENDPOINT", default="") or None,
            "region_name": env.str("KITSHARE_PHOTOS_S3_REGION", default="") or None,
            "access_key": env.str("KITSHARE_PHOTOS_S3_KEY", default="") or None,
            "secret_key": env.str("KITSHARE_PHOTOS_S3_SECRET", default="") or None,
        },
    }
MEDIA_URL = "photos/"
# A photo is at most 15 MB. A phone with script sends each by itself, one without sends a whole sheet with some ten.
REQUEST_MAX_BYTES = 120_000_000
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000
DATA_UPLOAD_MAX_NUMBER_FILES = 500  # each part of a kit has its own field for a photo, and an empty one counts
PHOTO_MAX_BYTES = 15_000_000
# A backup that a coordinator sends in to try it; what is kept on the server may be as large as it is.
BACKUP_MAX_BYTES = env.int("KITSHARE_BACKUP_MAX_MB", default=500) * 1_000_000

# Strict: no inline script or style, nothing from elsewhere.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "manifest-src": [SELF],
        "worker-src": [SELF],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = BEHIND_TLS
CSRF_COOKIE_SECURE = BEHIND_TLS
SESSION_COOKIE_AGE = 60 * 60 * 24 * 60  # two months: a season's volunteers stay signed in on their own phone
SECURE_SSL_REDIRECT = BEHIND_TLS
SECURE_HSTS_SECONDS = 31_536_000 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = BEHIND_TLS
SECURE_HSTS_PRELOAD = BEHIND_TLS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_TLS else None

# Without a mail server nothing leaves the machine; the page "Post" shows what would have gone.
EMAIL_ADDRESS = env.str("EMAIL_URL", default="")
if EMAIL_ADDRESS:
    globals().update(env.email_url("EMAIL_URL"))
else:
    EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.str("KITSHARE_MAIL_FROM", default="kit@example.org")

CELERY_BROKER_URL = env.str("REDIS_URL", default="")
# So long, and a third, may a server be without a beat when the one that led was killed.
BEAT_LEASE_SECONDS = env.int("KITSHARE_BEAT_LEASE", default=30)
# Whoever does a long work says so each second; who was silent for so long was killed, and another begins it anew.
WORK_LEASE_SECONDS = env.int("KITSHARE_WORK_LEASE", default=45)

# Whoever knows this word may read /metrics/; without one there is no such page.
METRICS_TOKEN = env.str("KITSHARE_METRICS_TOKEN", default="")

DJANGO_TABLES2_TEMPLATE = "components/table.html"
# "json": a JSON object a record, for a server whose log a program reads; else a line for people.
LOGGING = logs.settings_for(as_json=env.str("KITSHARE_LOG", default="") == "json")
