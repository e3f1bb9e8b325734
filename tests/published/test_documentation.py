"""What docs/statistics.md names is there: check values, tests, modules."""

import re
from fnmatch import fnmatch
from pathlib import Path

from .checks import CHECKS, name

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "statistics.md").read_text()


def test_every_check_value_that_it_names_exists():
    held = " ".join(re.findall(r"\*\*Held by\*\*(.*?)(?=\n\n|\n- |\Z)", TEXT, re.S))
    named = [word for word in re.findall(r"`([^`]+)`", held) if "/" not in word]
    assert len(named) > 20
    for pattern in named:
        assert any(fnmatch(name(check), pattern) for check in CHECKS), pattern


def test_every_file_that_it_names_exists():
    named = re.findall(r"`((?:pipeline|tests)/[^`]+)`", TEXT)
    assert len(named) > 10
    for path in named:
        assert (ROOT / path).exists(), path


def test_every_figure_says_when_it_cannot_be_told_and_what_it_takes_for_granted():
    figures = TEXT.split("\n## ")[2:-1]
    assert len(figures) > 10
    for figure in figures:
        title, *_ = figure.splitlines()
        assert "**Question.**" in figure, title
        assert "an't be told" in figure, title
        assert "Definition" in figure, title
        assert "stimator" in figure, title
