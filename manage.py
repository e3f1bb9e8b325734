#!/usr/bin/env python
"""Command-line entry of the project."""

import os
import sys


def main() -> None:
    """Run a management command, or name what is missing or wrong in one line."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")
    try:
        from django.core.exceptions import ImproperlyConfigured
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here: run script/server or script/test once.")
    try:
        # Loaded so that a command that writes a letter wakes a worker at its broker.
        import pipeline.celery  # noqa: F401

        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        sys.exit(f"{os.path.basename(sys.argv[0])}: {wrong}")


if __name__ == "__main__":
    main()
