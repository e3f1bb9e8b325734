"""Whether the program is up, and whether it can work: asked by machines, told without a name."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.db import DatabaseError
from django.db.migrations.recorder import MigrationRecorder

from pipeline.jobs.models import Job
from pipeline.jobs.planning import plan_job
from pipeline.watching import readiness
from tests.conftest import NOW
from tests.followups.queries import tables
from tests.mail.letters import letter_to


def ready(client):
    response = client.get("/readyz")
    return response.status_code, json.loads(response.text)


def test_that_the_process_is_up_is_told_without_a_question_to_anybody(client):
    response = client.get("/healthz")
    assert (response.status_code, response.text) == (200, "ok\n")
    assert "no-store" in response["Cache-Control"]


@pytest.mark.django_db
def test_ready_means_that_all_that_is_needed_is_there_one_line_each(client):
    response = client.get("/readyz")
    assert response.status_code == 200
    assert response["Content-Type"] == "application/json"
    assert "no-store" in response["Cache-Control"]
    assert response.text.splitlines() == [
        "{",
        ' "ready": true,',
        ' "database": "ok: answers",',
        ' "migrations": "ok: all applied",',
        ' "due work": "ok: nothing waits",',
        ' "broker": "ok: none is used"',
        "}",
    ]


@pytest.mark.django_db
def test_it_asks_these_questions(client):
    asked = tables(lambda: client.get("/readyz"))
    assert asked == ["django_migrations", "mail_letter", "jobs_job", "jobs_round"]


@pytest.mark.django_db
def test_a_migration_that_was_not_applied_is_counted(client):
    MigrationRecorder.Migration.objects.filter(app="jobs").last().delete()
    status, said = ready(client)
    assert (status, said["ready"]) == (503, False)
    assert said["migrations"] == "FAILED: 1 not applied: run manage.py migrate"


@pytest.mark.django_db
@pytest.mark.parametrize("kind", ["letter", "job"])
def test_work_that_nobody_does_is_told_after_ten_minutes(cast, client, kind):
    def due(at):
        if kind == "letter":
            letter_to(cast.member, due_at=at)
        else:
            plan_job(team=cast.team, kind="digest", key="a", due_at=at, now=at)

    due(NOW - timedelta(minutes=10))
    assert ready(client) == (200, ready(client)[1])
    assert ready(client)[1]["due work"] == "ok: the oldest has waited 600 s"
    due_earlier = NOW - timedelta(minutes=10, seconds=1)
    plan_job(team=cast.team, kind="digest", key="b", due_at=due_earlier, now=NOW)
    status, said = ready(client)
    assert status == 503
    assert said["due work"] == (
        "FAILED: the oldest has waited 601 s, more than 600 s: is a worker up?"
    )


@pytest.mark.django_db
def test_what_is_due_later_or_held_by_a_worker_counts_as_nothing(cast, client):
    letter_to(cast.member, due_at=NOW + timedelta(minutes=1))
    job_at = NOW - timedelta(hours=1)
    plan_job(team=cast.team, kind="digest", key="a", due_at=job_at, now=NOW)
    assert ready(client)[0] == 503
    Job.objects.claim_next(now=NOW)
    assert ready(client)[1]["due work"] == "ok: nothing waits"


@pytest.mark.django_db
def test_a_database_that_is_away_is_told_and_not_asked_twice(client, monkeypatch, caplog):
    def away():
        raise DatabaseError("connection to db.example as me failed: password secret")

    monkeypatch.setattr(readiness, "database", away)
    status, said = ready(client)
    assert status == 503
    assert said["database"] == "FAILED: no answer"
    assert said["migrations"] == said["due work"] == "FAILED: not asked: no database"
    assert "secret" not in json.dumps(said) + caplog.text


def test_a_broker_that_is_away_is_told_within_seconds(client, settings, monkeypatch):
    monkeypatch.setattr(readiness, "database", lambda: 1 / 0)
    # nothing listens on port 1 (RFC 1078's, long unused)
    settings.REDIS_URL = "redis://:secret@127.0.0.1:1/0"
    status, said = ready(client)
    assert (status, said["broker"]) == (503, "FAILED: no answer")
    assert "secret" not in json.dumps(said)


@pytest.mark.parametrize("path", ["/healthz", "/readyz", "/metrics"])
def test_these_pages_are_only_read(client, path):
    assert client.post(path).status_code == 405
