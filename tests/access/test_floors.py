"""A module imports its own package or a lower floor, never one above or beside it."""

from pathlib import Path

import pytest

from tests.access.imports import pointing_up, sources

ROOT = Path(__file__).resolve().parents[2]


def test_no_import_points_up():
    assert pointing_up(ROOT) == []


def test_every_source_file_is_read():
    found = {module for _, module in sources(ROOT)}
    assert {"pipeline.clock.moment", "pipeline.settings", "sessions.models.session"} <= found
    assert len(found) > 60


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("pipeline/leads/a.py", "from sessions.models import Format"),
        ("pipeline/leads/a.py", "import pipeline.followups.due"),
        ("pipeline/leads/a.py", "from pipeline import results"),
        ("pipeline/leads/models/a.py", "from ...followups import due"),
        ("pipeline/leads/a.py", "def f():\n    from pipeline.exchange import models"),
        ("pipeline/leads/a.py", "if TYPE_CHECKING:\n    from pipeline.accounts import links"),
        ("pipeline/results/a.py", "from pipeline.exchange.models import Sheet"),
        ("pipeline/stats/a.py", "from pipeline.clock import moment"),
        ("pipeline/teams/a.py", "from pipeline import settings"),
        ("sessions/a.py", "from pipeline.celery import app"),
    ],
)
def test_an_import_that_points_up_is_found(tmp_path, file, text):
    path = tmp_path / file
    path.parent.mkdir(parents=True)
    path.write_text(text)
    assert len(pointing_up(tmp_path)) == 1


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("pipeline/leads/a.py", "from pipeline.teams.models import Team"),
        ("pipeline/leads/models/a.py", "from ..settle import settle\nfrom .lead import Lead"),
        ("sessions/a.py", "from . import b\nfrom pipeline.leads.models import Lead"),
        ("pipeline/urls.py", "import sessions.urls\nfrom pipeline import env"),
        ("pipeline/leads/a.py", "import json\nfrom django.contrib.sessions import models"),
    ],
)
def test_an_import_that_points_down_is_let_pass(tmp_path, file, text):
    path = tmp_path / file
    path.parent.mkdir(parents=True)
    path.write_text(text)
    assert pointing_up(tmp_path) == []
