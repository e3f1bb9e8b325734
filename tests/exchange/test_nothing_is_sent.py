"""An import plans only what is still ahead, and sends nothing."""

from __future__ import annotations

from datetime import date

from django.core import mail

from pipeline.followups.models import FollowUp, FollowUpState
from pipeline.followups.plans import ensure_plan
from pipeline.jobs.models import Job
from pipeline.leads.models import Funding
from pipeline.mail.models import Letter
from tests.conftest import TODAY
from tests.exchange.sheets import bring

ROWS = [
    {
        "organisation": "Kiln",
        "session_on": "2024-01-05",
        "session_status": "held",
        "deliverable_sent_on": "2024-01-09",
        "decision": "no budget yet",
        "decided_on": "2024-02-01",
        "funding_expected_on": "2026-09",
    },
    {"organisation": "Fold", "session_on": "2025-01-05", "session_status": "missed"},
    {"organisation": "Gate", "decision": "declined", "decided_on": "2024-02-01"},
]


def test_only_follow_ups_that_are_still_ahead_are_planned(cast):
    ensure_plan(cast.team)
    bring(cast.team, ROWS)
    planned = FollowUp.objects.order_by("due_on")
    assert planned
    assert all(row.due_on >= TODAY for row in planned)
    assert {row.lead.organisation for row in planned} == {"Kiln"}
    # two weeks before the month for which money is expected
    assert date(2026, 8, 1) < max(row.due_on for row in planned) < date(2026, 9, 1)
    assert set(planned.values_list("state", flat=True)) == {FollowUpState.OPEN}


def test_nothing_is_written_to_anybody(cast):
    ensure_plan(cast.team)
    came_back = {
        "organisation": "Weir",
        "decision": "engaged",
        "decided_on": "2026-03-02",
        "funding_arrived_on": "2026-03-02",
    }
    bring(cast.team, [*ROWS, came_back])
    assert Funding.objects.exists()
    # nor later
    assert not Job.objects.exists()
    assert not Letter.objects.exists()
    assert mail.outbox == []
