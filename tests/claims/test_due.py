"""A row is claimed by one worker at a time, comes up again after its lease, and is given up."""

from datetime import timedelta

import pytest
from django.db import connection

from pipeline.claims.due import DIED, LEASE
from pipeline.jobs.models import Job
from pipeline.jobs.planning import plan_job
from tests.conftest import NOW
from tests.followups.threads import at_once

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(cast):
    plan_job(team=cast.team, kind="digest", key="one", due_at=NOW, now=NOW)
    return Job.objects.get()


def take(now=NOW):
    return Job.objects.claim_next(now=now)


def test_the_next_attempt_is_set_before_anything_is_tried(job):
    taken = take()
    stored = Job.objects.get()
    assert stored.next_attempt_at == NOW + LEASE
    assert (stored.attempts, stored.claim, stored.claimed_at) == (1, taken.claim, NOW)


def test_a_row_whose_worker_died_comes_up_again_after_its_lease(job):
    take()
    assert take(NOW + LEASE - timedelta(seconds=1)) is None
    assert take(NOW + LEASE).attempts == 2


def test_the_row_that_has_waited_longest_comes_first(cast, job):
    earlier = NOW - timedelta(hours=1)
    plan_job(team=cast.team, kind="digest", key="two", due_at=earlier, now=NOW)
    assert [take().key, take().key, take()] == ["digest|two", "digest|one", None]


def test_a_worker_that_lost_its_claim_stores_nothing(job):
    slow, quick = take(), take(NOW + LEASE)
    assert slow.try_again(now=NOW, error="late") is False
    assert slow.give_up(now=NOW, error="late") is False
    assert slow.finish(done_at=NOW) is False
    assert Job.objects.get().last_error == ""
    assert quick.finish(done_at=NOW) is True
    assert quick.finish(done_at=NOW) is False


def test_after_its_last_attempt_it_is_given_up_and_says_why(job):
    now = NOW
    for _ in range(Job.tries):
        taken = take(now)
        taken.try_again(now=now, error="no room")
        now += timedelta(days=1)
    assert take(now) is None
    stored = Job.objects.given_up().get()
    assert (stored.attempts, stored.last_error) == (Job.tries, "no room")


def test_a_row_that_takes_every_worker_down_is_given_up_too(job):
    for n in range(Job.tries):
        assert take(NOW + n * LEASE) is not None
    assert take(NOW + Job.tries * LEASE) is None
    assert Job.objects.given_up().get().last_error == DIED


def test_what_was_given_up_can_be_tried_anew(job):
    take().give_up(now=NOW, error="no room")
    assert Job.objects.all().revive(now=NOW) == 1
    revived = take()
    assert (revived.attempts, revived.last_error, revived.gave_up_at) == (1, "", None)


def test_what_failed_and_will_be_tried_again_counts_as_stuck(job):
    assert not Job.objects.stuck().exists()
    take().try_again(now=NOW, error="no room")
    assert Job.objects.stuck().get().last_error == "no room"


@pytest.mark.django_db(transaction=True)
def test_of_many_workers_at_once_each_row_is_handed_to_one(cast):
    for n in range(40):
        plan_job(team=cast.team, kind="digest", key=str(n), due_at=NOW, now=NOW)
    taken = []

    def work():
        while (row := take()) is not None:
            taken.append(row.pk)

    assert at_once(*[work] * 6) == []
    assert sorted(taken) == sorted(set(taken))
    assert len(taken) == 40


def test_one_claim_takes_few_queries_and_none_but_one_where_nothing_waits(
    job, django_assert_num_queries
):
    # On PostgreSQL the claim, and the row. Else: waits anything; BEGIN is not counted: savepoint,
    # the row, its claim, release.
    with django_assert_num_queries(2 if connection.vendor == "postgresql" else 5):
        take()
    with django_assert_num_queries(1):
        take()
