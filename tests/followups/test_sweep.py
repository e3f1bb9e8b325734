"""The round of due work, once or many at once, in a thread, by command and by Celery."""

import threading
from datetime import UTC, date, datetime

import pytest
from django.core.management import call_command

from pipeline.clock import moment
from pipeline.followups import tasks
from pipeline.followups.models import Digest, FollowUp
from pipeline.followups.plans import ensure_plan
from pipeline.followups.sweep import sweep
from pipeline.followups.ticker import Ticker
from pipeline.jobs import running
from pipeline.jobs.models import Job
from pipeline.mail.models import Letter
from tests.conftest import NOW
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory
from tests.followups.threads import at_once


@pytest.fixture
def due(cast):
    FollowUpFactory(lead=LeadFactory(team=cast.team))


@pytest.mark.django_db
def test_a_round_writes_what_is_due_and_delivers_it(due):
    done = sweep(NOW)
    # In New York it is not eight yet: its morning waits. Each of three is asked about the week,
    # of which there is nothing to tell.
    assert (done.rounds, done.jobs, done.letters) == (3, 9, 2)
    assert Letter.objects.filter(sent_at=NOW).count() == 2
    again = sweep(NOW)
    assert (again.rounds, again.jobs, again.letters) == (0, 0, 0)


@pytest.mark.django_db
def test_a_fact_entered_ahead_counts_when_its_day_has_come(cast):
    ensure_plan(cast.team)
    lead = LeadFactory(team=cast.team)
    FollowUpFactory(lead=lead)
    DecisionFactory(lead=lead, kind="engaged", day=date(2026, 3, 4))
    sweep(NOW)
    assert FollowUp.objects.get().state == "open"
    sweep(datetime(2026, 3, 4, 9, tzinfo=UTC))
    row = FollowUp.objects.get()
    assert (row.state, row.reason) == ("ended", "engaged on 4 Mar 2026")


@pytest.mark.django_db
def test_a_team_that_fails_holds_up_neither_the_others_nor_the_letters(
    cast, due, monkeypatch, caplog
):
    whole = running.handlers()

    def broken(job, now):
        if job.team == cast.team:
            raise RuntimeError("a bad row")
        whole["catch up"](job, now)

    monkeypatch.setattr(running, "handlers", lambda: {**whole, "catch up": broken})
    LeadFactory(team=cast.other_team)
    assert sweep(NOW).letters == 2
    stuck = Job.objects.stuck().get()
    assert (stuck.team, stuck.last_error) == (cast.team, "RuntimeError: a bad row")


@pytest.mark.django_db
def test_the_command_says_what_it_did(due, capsys):
    call_command("sweep")
    assert capsys.readouterr().out == "3 rounds begun, 9 jobs done, 2 letters delivered.\n"


@pytest.mark.django_db
def test_celery_calls_the_same_round(due):
    assert tasks.sweep.name == "pipeline.followups.tasks.sweep"
    tasks.sweep()
    assert Letter.objects.filter(sent_at=NOW).count() == 2


@pytest.mark.django_db
def test_the_beat_knows_the_task_by_its_name():
    from pipeline.celery import app

    (entry,) = app.conf.beat_schedule.values()
    assert entry["task"] == tasks.sweep.name


@pytest.mark.django_db(transaction=True)
def test_of_many_rounds_at_once_each_digest_and_letter_is_made_once(due, cast, caplog):
    done = []
    assert at_once(*[lambda: done.append(sweep(NOW))] * 4) == []
    assert not caplog.records
    assert Digest.objects.filter(team=cast.team).count() == 2
    assert list(Letter.objects.values_list("attempts", flat=True)) == [1, 1]
    assert sum(round.jobs for round in done) == 9
    assert sum(round.letters for round in done) == 2


@pytest.mark.django_db(transaction=True)
def test_the_ticker_works_at_once_and_again_and_ends_its_round_when_stopped(due):
    rounds_done = []
    twice = threading.Event()

    def work(now):
        rounds_done.append(sweep(now))
        if len(rounds_done) == 2:
            twice.set()

    ticker = Ticker(seconds=0.01, work=work)
    with moment.stopped(NOW):
        ticker.start()
        assert twice.wait(timeout=30)
        ticker.stop()
    assert rounds_done[0].letters == 2
    assert not any(thread.name == "ticker" for thread in threading.enumerate())


def test_a_round_that_fails_does_not_stop_the_ticker(caplog):
    twice = threading.Event()
    calls = []

    def work(now):
        calls.append(now)
        if len(calls) > 1:
            twice.set()
        raise RuntimeError("the database is away")

    ticker = Ticker(seconds=0.01, work=work)
    ticker.start()
    assert twice.wait(timeout=30)
    ticker.stop()
    assert "a round of due work failed" in caplog.text


def test_a_ticker_that_never_started_stops():
    Ticker().stop()
