"""A start that shows no figures does not load NumPy."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

PROGRAM = """
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "pipeline.settings"
import django
django.setup()
from django.template.loader import get_template
from django.urls import get_resolver
get_resolver().url_patterns
get_template("results/section.html")
assert "pipeline.results.views" in sys.modules
print("numpy" in sys.modules)
"""


def test_addresses_and_templates_load_without_numpy():
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["False"]
