"""The site as it is, with the floor pages beside it."""

from kitshare.settings import *  # noqa: F403

ROOT_URLCONF = "tests.bench.urls"
