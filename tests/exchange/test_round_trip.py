"""Export, then import into an empty team: the same facts, and the same results."""

from __future__ import annotations

import json
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.clock import moment
from pipeline.exchange.columns import COLUMNS
from pipeline.exchange.writing import sheet_lines
from pipeline.leads.models import Lead
from pipeline.teams.models import Team
from sessions.models import Deliverable
from tests.conftest import TODAY
from tests.exchange.sheets import bring, facts

# few values of each, so that rows often speak of the same thing
DAYS = st.integers(0, 12).map(lambda n: str(date(2026, 1, 30) + timedelta(days=n)))
KINDS = st.sampled_from(["engaged", "no budget yet", "declined", "gone quiet", "turned away"])
BLANK = st.just("")


def some(*words: str) -> st.SearchStrategy[str]:
    return st.sampled_from(["", *words])


PEOPLE = some("Ana", "Bo", "ana", "=Bo()")
AMOUNTS = some("0", "5000", "12500.50", "999999999999.999", "007.10")


@st.composite
def rows(draw: st.DrawFn) -> dict[str, str]:
    ref = draw(st.sampled_from(["", "A", "B", "C"]))
    row = {
        "lead_ref": ref,
        "organisation": f"Org {ref or draw(some('x'))}",
        "contact_name": draw(PEOPLE),
        "contact_email": draw(some("ana@a.example", "ANA@a.example", "bo@b.example")),
        "source": draw(some("Fair, spring", "Word of mouth")),
        "enquired_on": draw(st.one_of(BLANK, DAYS)),
        "followed_since": draw(st.one_of(BLANK, DAYS)),
        "format": draw(some("Hour", "Half “hour”")),
        "session_on": draw(st.one_of(BLANK, DAYS)),
        "attendees": draw(some("0", "3", "5")),
        "effort_minutes": draw(some("0", "240")),
        "deliverable": draw(some("Takeaway", "Lane\nchart", "-5", "+5", "''@5")),
        "deliverable_sent_on": draw(st.one_of(BLANK, DAYS)),
        "funding_expected_on": draw(some("2026-09", "2026-09-01", "2027-01-15")),
        "funding_arrived_on": draw(st.one_of(BLANK, DAYS)),
        "fee": draw(AMOUNTS),
        "currency": draw(some("USD", "eur")),
        "Our own column": draw(some("kept; as it is")),
    }
    if row["session_on"]:
        row["session_status"] = draw(some("booked", "held", "missed", "cancelled"))
    first, later = sorted([draw(DAYS), draw(DAYS)])
    if draw(st.booleans()):
        row |= {"decision": draw(KINDS), "decided_on": first}
    if draw(st.booleans()):
        row |= {"later_decision": draw(KINDS), "later_decided_on": later}
    return row


def new_team(name: str) -> Team:
    Team.objects.filter(slug=name).delete()
    return Team.objects.create(name=name, slug=name, timezone="Europe/Lisbon", country="PT")


def exported(team: Team) -> bytes:
    return "".join(sheet_lines(team)).encode()


# Of the results, what rests on facts that a sheet holds.
HELD = (
    "as_of",
    "formats",
    "sources",
    "overall",
    "delayed_return",
    "conversion_within",
    "side_by_side",
    "waits",
    "since_funding",
    "return_share",
    "returns",
)


def results(team: Team) -> dict:
    out = StringIO()
    call_command("results", team=team.slug, format="json", stdout=out)
    found = json.loads(out.getvalue())
    return {name: found[name] for name in HELD}


@pytest.mark.django_db
@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.lists(rows(), min_size=1, max_size=9))
def test_what_was_brought_goes_out_and_comes_into_another_team_the_same(drawn):
    first, second = new_team("first"), new_team("second")
    report = bring(first, drawn)
    assert report.rejects == []
    before = facts(first)

    again = bring(first, drawn)
    assert (again.leads_new, again.leads_changed, again.facts_new) == (0, 0, {})
    assert facts(first) == before

    out = exported(first)
    back = bring(first, out)
    assert (back.leads_new, back.leads_changed, back.facts_new, back.rejects) == (0, 0, {}, [])

    assert bring(second, out).rejects == []
    assert facts(second) == before
    assert exported(second) == out
    assert results(second) == results(first)


@pytest.mark.django_db
def test_teams_that_worked_in_the_app_go_out_and_come_into_empty_ones_the_same():
    call_command("demo", verbosity=0)
    teams = list(Team.objects.all())
    assert len(teams) == 2
    for team in teams:
        empty = new_team(f"{team.slug}-again")
        Team.objects.filter(pk=empty.pk).update(currency=team.currency, timezone=team.timezone)
        empty.refresh_from_db()
        assert bring(empty, exported(team), now=moment.now()).rejects == []
        assert results(empty) == results(team)
        # standing may differ: a waived deliverable and a proposal stay behind
        assert without_standing(empty) == without_standing(team)

        back = bring(team, exported(team), now=moment.now())
        assert (back.leads_new, back.leads_changed, back.facts_new) == (0, 0, {})


def without_standing(team: Team) -> dict:
    waived = set(
        Deliverable.objects.for_team(team)
        .exclude(waived_on=None)
        .values_list("lead__reference", "title")
    )
    found = facts(team)
    for name, lead in found.items():
        del lead["standing"]
        lead["deliverables"] = {d for d in lead["deliverables"] if (name, d[1]) not in waived}
    return found


@pytest.mark.django_db
def test_an_empty_team_gives_the_header_alone():
    assert exported(new_team("empty")) == (",".join(COLUMNS) + "\r\n").encode()


@pytest.mark.django_db
def test_every_row_carries_reference_and_organisation(cast):
    bring(
        cast.team,
        [
            {"lead_ref": "A", "organisation": "Kiln", "contact_name": "Ana"},
            {"lead_ref": "A", "organisation": "Kiln", "contact_name": "Bo"},
            {"lead_ref": "A", "organisation": "Kiln", "funding_arrived_on": str(TODAY)},
        ],
    )
    header, *lines = exported(cast.team).decode().splitlines()
    assert [line.split(",")[:3] for line in lines] == [["A", "Kiln", "Ana"], ["A", "Kiln", "Bo"]]
    assert header.startswith("lead_ref,organisation,contact_name")


@pytest.mark.django_db
def test_a_lead_that_was_merged_goes_out_as_the_one_that_was_kept(cast):
    bring(cast.team, [{"lead_ref": r, "organisation": r} for r in "AB"])
    kept, gone = Lead.objects.order_by("reference")
    Lead.objects.filter(pk=gone.pk).update(merged_into=kept)

    assert [line.split(",")[0] for line in exported(cast.team).decode().splitlines()[1:]] == ["A"]
