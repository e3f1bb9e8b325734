"""Due work is taken before it has a team, and done for its team alone."""

import uuid

import pytest
from django.db import DataError, connection, transaction

from pipeline.claims.due import LEASE
from pipeline.followups.sweep import sweep
from pipeline.jobs import running
from pipeline.jobs.models import Job
from pipeline.jobs.planning import plan_job
from pipeline.jobs.running import run_jobs
from pipeline.leads.models import Source
from pipeline.locks.asking import locked
from pipeline.mail.models import Letter
from tests.conftest import NOW
from tests.factories import FollowUpFactory, LeadFactory
from tests.locks.rows import on_postgresql

pytestmark = [pytest.mark.django_db, on_postgresql]


def claimed(queue):
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT * FROM pipeline_claim(%s, %s, %s, %s)", [queue, NOW, LEASE, uuid.uuid4()]
        )
        return [column.name for column in cursor.description], cursor.fetchall()


def plan(team, key):
    plan_job(team=team, kind="note", key=key, due_at=NOW, now=NOW)


def test_a_claim_tells_the_key_and_the_team_and_nothing_else(cast):
    plan(cast.team, "one")
    job = Job.objects.get()
    with locked():
        assert claimed("jobs_job") == (["row_id", "row_team"], [(job.pk, cast.team.pk)])
        assert claimed("jobs_job")[1] == []
        assert not Job.objects.exists()


@pytest.mark.parametrize("table", ["leads_lead", "teams_user", "jobs_job; SELECT 1", ""])
def test_nothing_but_due_work_is_claimed(cast, table):
    LeadFactory(team=cast.team)
    with locked(), pytest.raises(DataError, match="no queue"), transaction.atomic():
        claimed(table)


def test_a_job_that_forgets_its_team_sees_and_writes_no_others(cast, monkeypatch):
    for team in (cast.team, cast.other_team):
        Source.objects.create(team=team, name="fair")
        plan(team, team.slug)
    seen = []

    def forgetful(job, now):
        seen.append((job.team, [source.team for source in Source.objects.all()]))
        Source.objects.update(name=f"seen by {job.team}")

    monkeypatch.setattr(running, "handlers", lambda: {"note": forgetful})
    with locked():
        assert run_jobs(NOW) == 2
    assert [(team, [team]) for team, _ in seen] == seen
    assert {(s.team.name, s.name) for s in Source.objects.select_related("team")} == {
        (team.name, f"seen by {team}") for team in (cast.team, cast.other_team)
    }


def test_a_job_that_writes_for_another_team_is_taken_back_and_says_why(cast, monkeypatch):
    plan(cast.team, "one")

    def straying(job, now):
        Source.objects.create(team=cast.other_team, name="fair")

    monkeypatch.setattr(running, "handlers", lambda: {"note": straying})
    with locked():
        assert run_jobs(NOW) == 0
    assert not Source.objects.exists()
    assert "row-level security" in Job.objects.get().last_error


def test_one_round_of_due_work_is_done_for_every_team(cast):
    for member in (cast.member, cast.other_owner):
        FollowUpFactory(lead=LeadFactory(team=member.team), owner=member)
    sweep(NOW.replace(hour=15))
    teams = {letter.team for letter in Letter.objects.exclude(sent_at=None)}
    assert teams == {cast.team, cast.other_team}
