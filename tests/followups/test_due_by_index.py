"""What is due is found by an index that holds what is open alone, in order of its day."""

from datetime import timedelta

import pytest
from django.db import connection

from pipeline.followups.due import AHEAD, follow_ups_of
from pipeline.followups.models import FollowUp
from pipeline.jobs.models import Job, Round
from pipeline.mail.models import Letter
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory

pytestmark = pytest.mark.django_db


def plan_of(rows) -> str:
    """Return how the database would look the rows up."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # A table of few rows is read whole; here the question is whether it has to be.
            cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute("ANALYZE")
    return rows.explain()


@pytest.fixture
def much(cast):
    """Follow-ups of three years, of which a hundredth is due, and more of another team."""
    for team in (cast.team, cast.other_team):
        lead = LeadFactory(team=team)
        FollowUp.objects.bulk_create(
            FollowUp(
                team=team,
                lead=lead,
                key=str(n),
                action="Ask",
                due_on=TODAY + timedelta(days=n),
                created_at=NOW,
                owner=cast.member if team == cast.team else None,
                state="open" if n % 5 else "done",
            )
            for n in range(1000)
        )


@pytest.mark.parametrize("who", ["member", None])
def test_what_a_member_or_anybody_has_to_do_is_read_from_an_index_of_days(cast, much, who):
    rows = follow_ups_of(cast.team, getattr(cast, who) if who else None)
    plan = plan_of(rows.filter(due_on__lte=TODAY + AHEAD).order_by("due_on", "pk")[:200])
    assert "followup_due" in plan
    assert "Seq Scan on followups_followup" not in plan
    assert "SCAN followups_followup" not in plan


@pytest.mark.parametrize(
    ("table", "index"),
    [(Letter, "letter_waiting"), (Job, "job_waiting"), (Round, "round_waiting")],
)
def test_due_rows_are_read_from_an_index_of_those_that_wait(cast, table, index):
    plan = plan_of(table.objects.waiting(NOW).order_by("next_attempt_at", "pk")[:1])
    assert index in plan
