"""A job is done once, whole or not at all, and a bad one holds up no other."""

from datetime import timedelta

import pytest

from pipeline.jobs import rounds, running
from pipeline.jobs.models import Daily, Job
from pipeline.jobs.planning import plan_job
from pipeline.jobs.running import run_jobs
from pipeline.leads.models import Source
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def done(monkeypatch):
    """Let jobs of kind "note" write a row named by their key; ``bad`` ones fail after it."""

    def note(job, now):
        Source.objects.create(team=job.team, name=job.key)
        if "bad" in job.key:
            raise RuntimeError("no room")

    monkeypatch.setattr(running, "handlers", lambda: {"note": note})
    return lambda: sorted(Source.objects.values_list("name", flat=True))


def plan(cast, key, due_at=NOW):
    plan_job(team=cast.team, kind="note", key=key, due_at=due_at, now=NOW)


def test_a_job_is_done_once_when_its_moment_has_come(cast, done):
    plan(cast, "a", NOW + timedelta(hours=1))
    assert run_jobs(NOW) == 0
    assert run_jobs(NOW + timedelta(hours=1)) == 1
    assert run_jobs(NOW + timedelta(hours=2)) == 0
    assert done() == ["note|a"]


def test_of_one_cause_there_is_one_job_even_after_it_was_done(cast, done):
    plan(cast, "a")
    run_jobs(NOW)
    plan(cast, "a")
    assert run_jobs(NOW) == 0
    assert Job.objects.get().done_at == NOW


def test_what_a_failed_job_had_done_is_taken_back(cast, done):
    plan(cast, "bad")
    plan(cast, "good")
    assert run_jobs(NOW) == 1
    assert done() == ["note|good"]
    stuck = Job.objects.stuck().get()
    assert (stuck.key, stuck.last_error) == ("note|bad", "RuntimeError: no room")


def test_a_job_that_another_worker_took_over_is_taken_back(cast, done, monkeypatch):
    plan(cast, "slow")

    def taken_over(job, now):
        Source.objects.create(team=job.team, name="half")
        Job.objects.update(claim=None)

    monkeypatch.setattr(running, "handlers", lambda: {"note": taken_over})
    assert run_jobs(NOW) == 0
    assert done() == []


def test_whoever_is_named_in_the_settings_for_a_kind_is_there(settings):
    assert set(running.handlers()) == set(settings.JOBS)
    assert set(rounds.handlers()) == set(Daily.values)
