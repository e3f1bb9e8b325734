"""Nothing but pipeline/clock reads the time; everybody else is handed it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.access.imports import sources

ROOT = Path(__file__).resolve().parents[2]
# By the last two names of what is called or mentioned.
READS = {
    ("datetime", "now"),
    ("datetime", "utcnow"),
    ("datetime", "today"),
    ("date", "today"),
    ("timezone", "now"),
    ("timezone", "localdate"),
    ("time", "time"),
    ("time", "time_ns"),
    ("time", "localtime"),
    ("time", "gmtime"),
}
BY_ITSELF = {"auto_now", "auto_now_add"}
FUNCTIONS = {"Now", "CurrentTimestamp", "localdate"}


def reading_the_time(root: Path) -> list[str]:
    """Return the places outside the clock at which the time is read."""
    found = []
    for path, module in sources(root):
        if module.startswith("pipeline.clock"):
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if reads(node):
                found.append(f"{path.relative_to(root)}:{node.lineno}")
    return found


def reads(node: ast.AST) -> bool:
    if isinstance(node, ast.Attribute):
        before = node.value
        last = before.attr if isinstance(before, ast.Attribute) else getattr(before, "id", "")
        return (last, node.attr) in READS or node.attr in FUNCTIONS
    if isinstance(node, ast.keyword):
        # auto_now=False says nothing
        on = not (isinstance(node.value, ast.Constant) and node.value.value is False)
        return node.arg in BY_ITSELF and on
    if isinstance(node, ast.ImportFrom):
        names = {alias.name for alias in node.names}
        return bool(names & FUNCTIONS) or (
            node.module in {"time", "django.utils.timezone"} and bool(names & {"time", "now"})
        )
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "now":
        # localtime() without a moment, or an imported now()
        return not node.args and not node.keywords
    if isinstance(node, ast.Call):
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        return name == "localtime" and not node.args and not node.keywords
    return False


def test_only_the_clock_reads_the_time():
    assert reading_the_time(ROOT) == []


@pytest.mark.parametrize(
    "text",
    [
        "import datetime\ndatetime.datetime.now()",
        "from datetime import datetime\nx = datetime.now(UTC)",
        "from datetime import date\ndate.today()",
        "from django.utils import timezone\ntimezone.now()",
        "from django.utils import timezone\nx = Field(default=timezone.now)",
        "from django.utils.timezone import now\n",
        "from django.utils.timezone import localtime\nlocaltime()",
        "import time\ntime.time()",
        "from time import time\n",
        "x = DateTimeField(auto_now_add=True)",
        "from django.db.models.functions import Now\n",
    ],
)
def test_a_place_that_reads_the_time_is_found(tmp_path, text):
    path = tmp_path / "pipeline" / "leads" / "a.py"
    path.parent.mkdir(parents=True)
    path.write_text(text)
    assert reading_the_time(tmp_path)


@pytest.mark.parametrize(
    "text",
    [
        "from pipeline.clock import moment\nnow = moment.now()",
        "from django.utils.timezone import localtime\nlocaltime(value)",
        "import time\ntime.monotonic()",
        "x = DateTimeField(auto_now=False)",
    ],
)
def test_the_clock_itself_and_conversions_are_let_pass(tmp_path, text):
    path = tmp_path / "pipeline" / "leads" / "a.py"
    path.parent.mkdir(parents=True)
    path.write_text(text)
    assert reading_the_time(tmp_path) == []
