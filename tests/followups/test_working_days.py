"""Open follow-ups keep to the team's working days where an owner changes these."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from pipeline.followups import working_days
from pipeline.followups.actions import put_off
from pipeline.followups.models import FollowUp
from pipeline.followups.plans import ensure_plan
from pipeline.jobs.models import Job
from pipeline.jobs.running import run_jobs
from pipeline.leads.settle import settle
from pipeline.teams.models import Team
from tests.conftest import NOW
from tests.factories import FollowUpFactory, LeadFactory, ProposalFactory
from tests.teams.test_team_page import settings_of

pytestmark = pytest.mark.django_db
# Ten working days after the third of March, a Tuesday too, as the default plan asks.
PLANNED = date(2026, 3, 17)
CLOSED = f"{PLANNED} Works outing"


@pytest.fixture
def team(cast):
    ensure_plan(cast.team)
    return cast.team


def proposed(team):
    """Return a lead with a proposal sent today, and what is planned from it."""
    lead = LeadFactory(team=team)
    ProposalFactory(lead=lead, sent_on=date(2026, 3, 3))
    settle(team, [lead.pk], now=NOW)
    return FollowUp.objects.filter(lead=lead).order_by("due_on").first()


def save(browser, team, **changes):
    team = Team.objects.get(pk=team.pk)
    url = reverse("team-settings", args=[team.slug])
    return browser.post(url, settings_of(team, **changes), follow=True)


def test_what_lay_on_a_new_day_off_moves_past_it_and_back_with_it(team, cast, sign_in):
    row, browser = proposed(team), sign_in(cast.owner)
    assert row.due_on == PLANNED
    assert "move to the new working days" in save(browser, team, days_off=CLOSED).text
    run_jobs(NOW)
    row.refresh_from_db()
    assert (row.due_on, row.planned_on) == (date(2026, 3, 18), date(2026, 3, 18))
    save(browser, team, days_off="")
    run_jobs(NOW)
    row.refresh_from_db()
    assert (row.due_on, row.planned_on) == (PLANNED, PLANNED)


@pytest.mark.parametrize(
    "changes",
    [
        # Saint Patrick's Day.
        {"country": "IE"},
        {"working_days": ["2", "3", "4"]},
        {"days_off": f"{PLANNED} to 2026-03-20"},
    ],
)
def test_after_each_change_nothing_open_is_due_on_a_day_off(team, cast, sign_in, changes):
    row = proposed(team)
    save(sign_in(cast.owner), team, **changes)
    run_jobs(NOW)
    calendar = Team.objects.get(pk=team.pk).calendar()
    row.refresh_from_db()
    assert row.due_on != PLANNED
    assert all(
        calendar.is_working(day) for day in FollowUp.objects.values_list("due_on", flat=True)
    )


def test_what_was_put_off_or_added_by_hand_keeps_its_day(team, cast, sign_in):
    row = proposed(team)
    day = date(2026, 3, 19)
    put_off(follow_up=row, now=NOW, until=day, expected_version=row.version)
    by_hand = FollowUpFactory(lead=row.lead, due_on=day)
    save(sign_in(cast.owner), team, days_off=f"{PLANNED} to {day}")
    run_jobs(NOW)
    for kept in (row, by_hand):
        kept.refresh_from_db()
        assert kept.due_on == day


def test_what_is_no_change_of_working_days_plans_nothing(team, cast, sign_in):
    proposed(team)
    browser = sign_in(cast.owner)
    assert "move to" not in save(browser, team, name="Harbour and Sons").text
    save(browser, team, days_off=CLOSED)
    Job.objects.all().delete()
    save(browser, team, days_off=f"{PLANNED} By another name")
    assert not Job.objects.exists()


def test_of_two_owners_the_second_changes_no_working_days(team, cast, sign_in):
    browser = sign_in(cast.owner)
    stale = settings_of(team, days_off=CLOSED)
    save(browser, team, name="Harbour and Sons")
    assert browser.post(reverse("team-settings", args=["harbour"]), stale).status_code == 409
    assert not Job.objects.exists()


def test_many_leads_are_settled_a_batch_a_job_and_no_other_teams(team, cast, sign_in, monkeypatch):
    monkeypatch.setattr(working_days, "BATCH", 2)
    ensure_plan(cast.other_team)
    rows, other = [proposed(team) for _ in range(5)], proposed(cast.other_team)
    versions = {row.pk: row.version for row in (*rows, other)}
    save(sign_in(cast.owner), team, days_off=CLOSED)
    assert Job.objects.count() == 1
    assert run_jobs(NOW) == 3
    for row in (*rows, other):
        row.refresh_from_db()
    assert {row.due_on for row in rows} == {PLANNED + timedelta(days=1)}
    assert (other.due_on, other.version) == (PLANNED, versions[other.pk])
