"""The two commands: what they say, and what they say where they can't."""

import tomllib
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from pipeline.leads.models import Lead
from tests.exchange.backup.places import elsewhere
from tests.factories import LeadFactory


def run(*words):
    out = StringIO()
    call_command(*map(str, words), stdout=out)
    return out.getvalue()


@pytest.mark.django_db(transaction=True)
def test_a_backup_is_taken_and_restored_by_two_commands(cast, tmp_path):
    LeadFactory(team=cast.team, organisation="Alder")
    file = tmp_path / "kept.zip"
    said = run("backup", file)
    assert "Copying the database." in said
    assert "0 uploads" in said
    assert "It holds personal data, and goes on holding what is erased from now on." in said
    with pytest.raises(CommandError, match="is there already, and is not overwritten"):
        run("backup", file)
    with elsewhere(tmp_path / "elsewhere"):
        said = run("restore", file)
        assert "Restored what was there on Tue 3 Mar 2026, 09:00 (UTC)" in said
        assert "Who was erased since then is back: erase them again" in said
        assert Lead.objects.get().organisation == "Alder"
        with pytest.raises(CommandError, match="with --replace"):
            run("restore", file)
        assert "Restored" in run("restore", file, "--replace")


@pytest.mark.django_db(transaction=True)
def test_where_it_cannot_be_written_or_read_it_says_so(tmp_path):
    with pytest.raises(CommandError, match="No such file or directory"):
        run("backup", tmp_path / "no folder" / "kept.zip")
    with pytest.raises(CommandError, match=r"all is as before: .* No such file"):
        run("restore", tmp_path / "no.zip")
    (tmp_path / "sheet.csv").write_text("organisation\n")
    with pytest.raises(CommandError, match="no whole backup of this program"):
        run("restore", tmp_path / "sheet.csv")
    with (
        elsewhere(tmp_path / "elsewhere"),
        pytest.raises(CommandError, match=r"empty|not written"),
    ):
        run("backup", tmp_path / "kept.zip")
    assert not [path for path in tmp_path.iterdir() if "kept" in path.name]


def test_the_version_is_that_of_the_project():
    project = tomllib.loads((Path(settings.BASE_DIR) / "pyproject.toml").read_text())["project"]
    assert project["version"] == settings.VERSION
