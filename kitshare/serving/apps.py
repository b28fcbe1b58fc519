"""The app of what serves the site, with its check of the database that it stands on."""

from django.apps import AppConfig

from kitshare.serving import checks


class Serving(AppConfig):
    name = "kitshare.serving"

    def ready(self) -> None:
        checks.announce()
