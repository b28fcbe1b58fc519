#!/usr/bin/env python
"""Runs a command of the site: `python manage.py help` lists them."""

import os
import sys

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "kitshare.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
