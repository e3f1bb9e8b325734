"""`manage.py results --format table`: the same figures for a reader, intervals in words."""

from datetime import timedelta
from io import StringIO

from django.core.management import call_command

from tests.factories import FormatFactory

from .rows import INDEX, add_lead


def lines(*arguments: str) -> list[str]:
    out = StringIO()
    call_command("results", "--team", "harbour", *arguments, stdout=out)
    return out.getvalue().splitlines()


def test_each_group_has_its_counts_and_its_interval_in_words(cast):
    """1 of 8: Wilson gives 2.2% to 47.1% (scipy's binomtest(1, 8), method wilson)."""
    hour = FormatFactory(team=cast.team, name="hour")
    add_lead(cast.team, ("engaged", INDEX), format=hour)
    for _ in range(7):
        add_lead(cast.team, format=hour)
    told = [" ".join(line.split()) for line in lines()]
    assert told[0] == "Harbour Studio: results as of 2026-03-03"
    assert "hour at least 12%, so far 2% to 47% 1 8 7 0 0" in told
    assert "source not known at least 12%, so far 2% to 47% 1 8 7 0 0" in told
    assert "left out, since they had decided before their first held session: 0" in told


def test_what_cannot_be_told_is_said_in_words(cast):
    add_lead(cast.team, ("no budget yet", INDEX))
    told = [" ".join(line.split()) for line in lines("--as-of", "2025-06-30")]
    assert "90 days 0% nobody so far: no interval 1" in told
    assert "180 days can't tell yet can't tell yet 0" in told
    assert any("0% to 79%: too few, can't tell yet" in line for line in told)


def test_leads_followed_only_since_their_end_are_told(cast):
    add_lead(
        cast.team,
        ("no budget yet", INDEX),
        ("engaged", INDEX + timedelta(days=9)),
        followed_since=INDEX + timedelta(days=30),
    )
    assert "not below, since followed only later: 1" in lines()


def test_a_team_without_leads_is_told_so(cast):
    assert "no leads yet" in lines()
