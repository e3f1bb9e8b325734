#!/usr/bin/env python
"""Command-line entry of the project."""

import os
import sys


def main() -> None:
    """Run a management command, or name what is missing in one line."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here: run script/server or script/test once.")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
