"""The numbers for Prometheus: right, cheap, and only for who has the token."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from prometheus_client.parser import text_string_to_metric_families

from pipeline.jobs.models import Daily, Job, Round
from pipeline.jobs.planning import job_of
from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter
from pipeline.watching.waiting import KINDS, lately, oldest, waiting
from tests.conftest import NOW, TODAY
from tests.followups.queries import tables
from tests.mail.letters import letter_to
from tests.mail.test_delivery import Carried

pytestmark = pytest.mark.django_db
TOKEN = "a-token-of-more-than-16"


@pytest.fixture
def scrape(client, settings):
    settings.METRICS_TOKEN = TOKEN
    return lambda: client.get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"})


def numbers(response) -> dict[tuple[str, ...], float]:
    """Read the answer back by the library's own parser."""
    families = text_string_to_metric_families(response.text)
    return {
        (sample.name.removeprefix("pipeline_"), *sample.labels.values()): sample.value
        for family in families
        for sample in family.samples
    }


def test_without_a_token_in_the_settings_there_is_no_such_page(client):
    assert client.get("/metrics").status_code == 404


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        (None, 'Bearer realm="metrics"'),
        (f"Basic {TOKEN}", 'Bearer realm="metrics", error="invalid_token"'),
        ("Bearer", 'Bearer realm="metrics", error="invalid_token"'),
        ("Bearer wrong", 'Bearer realm="metrics", error="invalid_token"'),
        (f"Bearer {TOKEN}x", 'Bearer realm="metrics", error="invalid_token"'),
        ("Bearer \u00e9", 'Bearer realm="metrics", error="invalid_token"'),
    ],
)
def test_a_wrong_token_is_asked_for_the_right_one(client, settings, sent, told):
    """RFC 6750, 3: the challenge."""
    settings.METRICS_TOKEN = TOKEN
    response = client.get("/metrics", headers={"Authorization": sent} if sent else None)
    assert (response.status_code, response["WWW-Authenticate"]) == (401, told)
    assert response.content == b""


def test_the_owner_of_a_team_has_no_way_in_without_it(cast, sign_in, settings):
    settings.METRICS_TOKEN = TOKEN
    assert sign_in(cast.owner).get("/metrics").status_code == 401


def test_with_nothing_there_each_number_is_zero(scrape):
    response = scrape()
    assert response["Content-Type"].startswith("text/plain; version=")
    assert "no-store" in response["Cache-Control"]
    found = numbers(response)
    assert set(found.values()) == {0}
    assert {name for name, *_ in found} == {
        "due_rows",
        "late_rows",
        "failed_rows",
        "given_up_rows",
        "oldest_due_seconds",
        "claimed_rows",
        "done_rows",
        "claim_wait_seconds",
    }


def test_it_tells_what_waits_what_failed_and_what_was_done(cast, scrape):
    letter_to(cast.member, key="1", due_at=NOW - timedelta(minutes=4), subject="good")
    letter_to(cast.member, key="2", due_at=NOW - timedelta(minutes=2), subject="bad")
    deliver(NOW, Carried(refuses=["bad"]))
    letter_to(cast.member, key="3", due_at=NOW - timedelta(seconds=121))
    letter_to(cast.member, key="4", due_at=NOW - timedelta(seconds=120))
    letter_to(cast.member, key="5", due_at=NOW + timedelta(seconds=1))
    lost = letter_to(cast.member, key="6")
    Letter.objects.filter(pk=lost.pk).update(next_attempt_at=None, gave_up_at=NOW)
    job = job_of(team=cast.team, kind="digest", key="a", due_at=NOW - timedelta(seconds=30))
    job.save()
    Round.objects.create(
        team=cast.team,
        kind=Daily.MORNING,
        day=TODAY,
        team_version=0,
        due_at=NOW,
        next_attempt_at=NOW,
    )
    assert numbers(scrape()) == {
        ("due_rows", "letter"): 2,
        ("due_rows", "job"): 1,
        ("due_rows", "round"): 1,
        ("late_rows", "letter"): 1,
        ("late_rows", "job"): 0,
        ("late_rows", "round"): 0,
        ("failed_rows", "letter"): 1,
        ("failed_rows", "job"): 0,
        ("failed_rows", "round"): 0,
        ("given_up_rows", "letter"): 1,
        ("given_up_rows", "job"): 0,
        ("given_up_rows", "round"): 0,
        ("oldest_due_seconds", "letter"): 121,
        ("oldest_due_seconds", "job"): 30,
        ("oldest_due_seconds", "round"): 0,
        ("claimed_rows", "letter"): 2,
        ("claimed_rows", "job"): 0,
        ("done_rows", "letter"): 1,
        ("done_rows", "job"): 0,
        # the means of four and two minutes
        ("claim_wait_seconds", "letter", "mean"): 180,
        ("claim_wait_seconds", "letter", "longest"): 240,
        ("claim_wait_seconds", "job", "mean"): 0,
        ("claim_wait_seconds", "job", "longest"): 0,
    }


def test_what_was_taken_a_quarter_of_an_hour_ago_is_no_longer_told(cast):
    letter_to(cast.member)
    deliver(NOW, Carried())
    assert lately("letter", NOW + timedelta(seconds=899)).done == 1
    assert lately("letter", NOW + timedelta(minutes=15)).done == 0


def test_the_numbers_name_nobody(cast, scrape):
    letter_to(cast.member)
    text = scrape().text
    for name in ("harbour", "Mateus", cast.member.user.email):
        assert name not in text


def test_a_scrape_asks_these_questions_however_many_rows_there_are(cast, scrape):
    expected = [*["mail_letter"] * 2, *["jobs_job"] * 2, *["jobs_round"] * 2]
    expected += ["mail_letter", "jobs_job"]
    assert tables(scrape) == expected
    for n in range(5):
        letter_to(cast.member, key=str(n))
    assert tables(scrape) == expected


def plan_of(query) -> str:
    """Return how the database would find what the question asks for."""
    with CaptureQueriesContext(connection) as caught:
        query()
    found = []
    with connection.cursor() as cursor:
        for asked in caught.captured_queries:
            explain = "EXPLAIN" if connection.vendor == "postgresql" else "EXPLAIN QUERY PLAN"
            cursor.execute(f"{explain} {asked['sql']}")
            found += [" ".join(map(str, row)) for row in cursor.fetchall()]
    return "\n".join(found)


def test_each_question_reads_an_index_and_not_the_table(cast):
    """Of ten thousand letters and jobs, all but ten done long ago."""
    long_ago = NOW - timedelta(days=90)
    rows: dict[str, list] = {"letter": [], "job": []}
    for n in range(10_000):
        done = n >= 10
        at = long_ago if done else NOW
        said = {"due_at": at, "next_attempt_at": None if done else NOW}
        said |= {"claimed_at": at, "attempts": 1}
        rows["letter"].append(
            Letter(team=cast.team, key=str(n), to="a@b.example", subject="s", text="t", **said)
        )
        rows["job"].append(Job(team=cast.team, kind="digest", key=str(n), **said))
    Letter.objects.bulk_create(rows["letter"], batch_size=500)
    Job.objects.bulk_create(rows["job"], batch_size=500)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    for kind in ("letter", "job"):
        table = KINDS[kind]._meta.db_table
        for ask in (waiting, oldest, lately):
            plan = plan_of(lambda: ask(kind, NOW))  # noqa: B023
            for line in plan.splitlines():
                # PostgreSQL's words for reading a whole table, and SQLite's
                assert f"Seq Scan on {table}" not in line, plan
                assert f"SCAN {table}" not in line or "USING" in line, plan
            assert f"{kind}_" in plan, plan
