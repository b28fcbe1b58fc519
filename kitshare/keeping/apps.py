"""The app that makes backups and restores them, with its check that no restore was cut short."""

from django.apps import AppConfig

from kitshare.keeping import checks


class Keeping(AppConfig):
    name = "kitshare.keeping"

    def ready(self) -> None:
        checks.announce()
