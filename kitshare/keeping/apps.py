"""The app that makes backups and restores them."""

from django.apps import AppConfig


class Keeping(AppConfig):
    name = "kitshare.keeping"
