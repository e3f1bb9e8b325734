"""The two commands: what they print, what they write, how they end."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from pipeline.exchange.columns import COLUMNS
from pipeline.leads.models import Lead, Source
from sessions.models import Format
from tests.exchange.sheets import sheet
from tests.factories import LogEntryFactory

ROWS = [
    {
        "organisation": "Kiln",
        "source": "Fair",
        "format": "Hour",
        "session_on": "2025-01-10",
        "session_status": "held",
        "deliverable": "Takeaway",
        "memo": "x",
    },
    {"organisation": "Fold", "fee": "-5"},
    {"organisation": "Gate", "session_status": "held"},
]
SAID = """\
rows: 3, of which 2 rejected
leads: 1 new, 0 matched, of which 0 changed
deliverables: 1 new, 0 matched
sessions: 1 new, 0 matched
formats created: Hour
sources created: Fair
columns kept as notes: memo
old unsent deliverables: 1
Rejected:
  line 3, fee: '-5'. Write an amount with a decimal point and nothing else, such as 12500.50.
  line 4, session_on: ''. Give the session's day, or leave session_status blank.
Unsent though their day is over:
  2025-01-17  Kiln: Takeaway
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "leads.csv"
    columns = list(dict.fromkeys(name for row in ROWS for name in row))
    path.write_bytes(sheet(ROWS, columns))
    return path


def run(*words: object) -> str:
    out = StringIO()
    call_command(*map(str, words), stdout=out)
    return out.getvalue()


def test_an_import_says_what_it_did_and_where_to_answer_for_old_deliverables(cast, file):
    said = run("import_leads", file, "--team", "harbour")
    assert said.startswith(SAID)
    assert said.splitlines()[-1].endswith("/t/harbour/unsent/")
    assert Lead.objects.get().organisation == "Kiln"


def test_a_dry_run_says_the_same_and_stores_nothing(cast, file, tmp_path):
    rejects = tmp_path / "rejects.csv"
    said = run("import_leads", file, "--team", "harbour", "--dry-run", "--rejects", rejects)
    assert said == f"Dry run: nothing is stored.\n{SAID}"
    for table in (Lead, Source, Format):
        assert not table.objects.exists()
    assert len(rejects.read_text().splitlines()) == 3


def test_the_rejects_file_can_be_mended_and_imported(cast, file, tmp_path):
    rejects = tmp_path / "rejects.csv"
    run("import_leads", file, "--team", "harbour", "--rejects", rejects)
    rejects.write_text(rejects.read_text().replace(",held", ",").replace("-5,", "5,", 1))
    said = run("import_leads", rejects, "--team", "harbour", "--rejects", rejects)
    assert said.startswith("rows: 2, of which 0 rejected\nleads: 2 new")
    assert len(rejects.read_text().splitlines()) == 1


def test_the_same_file_twice_says_what_matched(cast, file):
    run("import_leads", file, "--team", "harbour")
    said = run("import_leads", file, "--team", "harbour")
    assert "leads: 0 new, 1 matched, of which 0 changed" in said
    assert "sessions: 0 new, 1 matched" in said


def test_a_refused_file_ends_in_an_error_and_stores_nothing(cast, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"name\nKiln\n")
    rejects = tmp_path / "rejects.csv"
    for path, says in [(bad, "no column “organisation”"), (tmp_path / "none.csv", "No such file")]:
        with pytest.raises(CommandError, match=says):
            run("import_leads", path, "--team", "harbour", "--rejects", rejects)
    assert not rejects.exists()
    assert not Lead.objects.exists()


def test_a_place_where_rejects_cannot_be_written_is_told_before_anything_is_stored(cast, file):
    with pytest.raises(CommandError, match="--rejects"):
        run("import_leads", file, "--team", "harbour", "--rejects", file.parent)
    assert not Lead.objects.exists()


@pytest.mark.parametrize("words", [["import_leads", "x.csv"], ["export_leads"]])
def test_an_unknown_team_is_named(cast, words):
    with pytest.raises(CommandError, match="no team with the slug 'nobody'"):
        run(*words, "--team", "nobody")


def test_an_export_goes_to_standard_output_and_what_it_leaves_out_to_standard_error(cast, file):
    run("import_leads", file, "--team", "harbour")
    LogEntryFactory(lead=Lead.objects.get())
    out, err = StringIO(), StringIO()
    call_command("export_leads", team="harbour", stdout=out, stderr=err)
    header, line = out.getvalue().split("\r\n")[:2]
    assert header.split(",") == list(COLUMNS)
    assert line.split(",")[1] == "Kiln"
    assert "not in the sheet: conversations: 1" in err.getvalue()
