#!/usr/bin/env python
"""Run a command of the service."""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tracker.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as fault:
        sys.stderr.write(f"{fault}\n")
        sys.exit(os.EX_CONFIG)
