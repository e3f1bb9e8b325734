"""A team's rounds come once a local day, at midnight and at its hour, whatever went wrong."""

from datetime import UTC, date, datetime, timedelta

import pytest

from pipeline.jobs import rounds
from pipeline.jobs.models import Daily, Job, Round
from pipeline.jobs.planning import plan_job
from pipeline.jobs.rounds import KEPT, plan_rounds, run_rounds
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


def at(*when):
    return datetime(*when, tzinfo=UTC)


@pytest.fixture
def begun(cast, monkeypatch):
    """Note for which day, and when, a morning of the cast's team began."""
    found = []

    def note(held, now):
        if held.team == cast.team and held.kind == Daily.MORNING:
            found.append((held.day, now))

    monkeypatch.setattr(rounds, "handlers", lambda: dict.fromkeys(Daily.values, note))
    return found


def go(now):
    plan_rounds(now)
    run_rounds(now)


def morning(cast):
    return Round.objects.get(team=cast.team, kind=Daily.MORNING)


def test_a_new_team_has_its_rounds_of_today_and_then_one_a_day(cast, begun):
    for hours in range(72):
        go(at(2026, 3, 3) + timedelta(hours=hours))
    assert begun == [(date(2026, 3, n), at(2026, 3, n, 8)) for n in (3, 4, 5)]


def test_the_same_moment_again_begins_nothing(cast, begun):
    go(NOW)
    go(NOW)
    assert len(begun) == 1


def test_a_gap_of_three_days_gives_one_round_and_the_next_one_as_ever(cast, begun):
    go(at(2026, 3, 3, 8))
    go(at(2026, 3, 6, 7))
    go(at(2026, 3, 6, 8))
    go(at(2026, 3, 7, 8))
    assert begun == [
        (date(2026, 3, 3), at(2026, 3, 3, 8)),
        (date(2026, 3, 4), at(2026, 3, 6, 7)),
        (date(2026, 3, 6), at(2026, 3, 6, 8)),
        (date(2026, 3, 7), at(2026, 3, 7, 8)),
    ]


@pytest.mark.parametrize("hour", [0, 1, 2, 8, 23])
@pytest.mark.parametrize("first", [at(2026, 3, 27), at(2026, 10, 23)])
def test_around_a_change_of_clocks_there_is_one_a_day(cast, begun, first, hour):
    # Lisbon's clocks change on 29 March and 25 October 2026 at 01:00 UTC (IANA tzdata).
    cast.team.digest_hour = hour
    cast.team.save()
    for quarters in range(4 * 24 * 5):
        go(first + timedelta(minutes=15 * quarters))
    days = [day for day, _ in begun]
    assert days == sorted(set(days))
    assert len(days) >= 4


def test_another_hour_moves_what_waits_and_loses_no_day(cast, begun):
    go(at(2026, 3, 3, 7))
    cast.team.digest_hour = 10
    cast.team.save_version(cast.team.version)
    go(at(2026, 3, 3, 8))
    assert begun == []
    go(at(2026, 3, 3, 10))
    cast.team.digest_hour = 9
    cast.team.save_version(cast.team.version)
    go(at(2026, 3, 4, 8))
    assert len(begun) == 1
    go(at(2026, 3, 4, 9))
    assert [day for day, _ in begun] == [date(2026, 3, 3), date(2026, 3, 4)]


def test_an_earlier_hour_that_has_passed_today_comes_at_once(cast, begun):
    cast.team.digest_hour = 12
    cast.team.save()
    go(NOW)
    cast.team.digest_hour = 8
    cast.team.save_version(cast.team.version)
    go(NOW)
    assert begun == [(date(2026, 3, 3), NOW)]


def test_another_zone_moves_what_waits(cast, begun):
    go(at(2026, 3, 3, 9))
    cast.team.timezone = "Asia/Kolkata"
    cast.team.save_version(cast.team.version)
    go(at(2026, 3, 4, 2, 29))
    assert len(begun) == 1
    go(at(2026, 3, 4, 2, 30))
    assert begun[-1] == (date(2026, 3, 4), at(2026, 3, 4, 2, 30))


def test_a_round_that_fails_is_tried_again_and_comes_again_the_next_day(cast, monkeypatch):
    def broken(held, now):
        raise RuntimeError("no room")

    monkeypatch.setattr(rounds, "handlers", lambda: dict.fromkeys(Daily.values, broken))
    now = NOW
    for _ in range(Round.tries):
        go(now)
        # longer than any wait before the last attempt
        now += timedelta(hours=2)
    held = morning(cast)
    assert (held.day, held.last_error) == (date(2026, 3, 4), "RuntimeError: no room")
    assert held.next_attempt_at == at(2026, 3, 4, 8)


def test_one_whose_worker_died_in_every_attempt_comes_again_the_next_day(cast):
    plan_rounds(NOW)
    Round.objects.update(attempts=Round.tries)
    assert run_rounds(NOW) == 0
    assert morning(cast).day == date(2026, 3, 4)


def test_a_team_whose_zone_is_unknown_holds_up_no_other(cast, begun, caplog):
    type(cast.team).objects.filter(pk=cast.other_team.pk).update(timezone="Nowhere/None")
    go(NOW)
    assert len(begun) == 1
    assert "could not be set" in caplog.text


def test_jobs_long_done_are_forgotten_and_those_given_up_kept(cast, begun):
    for key in ("old", "new", "failed"):
        plan_job(team=cast.team, kind="digest", key=key, due_at=NOW, now=NOW)
    Job.objects.filter(key="digest|old").update(done_at=NOW - KEPT - timedelta(days=1))
    Job.objects.filter(key="digest|new").update(done_at=NOW)
    Job.objects.filter(key="digest|failed").update(gave_up_at=NOW - KEPT * 2)
    go(NOW)
    assert sorted(Job.objects.values_list("key", flat=True)) == ["digest|failed", "digest|new"]


def test_planning_reads_teams_and_rounds_once_a_kind(cast, django_assert_num_queries):
    plan_rounds(NOW)
    with django_assert_num_queries(2):
        assert plan_rounds(NOW) == 0
