"""Old deliverables that a sheet brought unsent get one answer, all together."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from pipeline.exchange.unsent import keep_owed, old_unsent, waive_all
from pipeline.leads.models import Standing
from pipeline.teams.refused import Refused
from sessions.models import Deliverable
from tests.conftest import NOW, TODAY
from tests.exchange.sheets import bring
from tests.factories import DeliverableFactory, LeadFactory

OLD = {"session_on": "2025-01-10", "session_status": "held", "deliverable": "Takeaway"}
ROWS = [
    {"organisation": "Kiln"} | OLD,
    {"organisation": "Fold"} | OLD,
    {"organisation": "Sent", "deliverable_sent_on": "2025-01-12"} | OLD,
    {"organisation": "Fresh"} | OLD | {"session_on": str(TODAY - timedelta(days=1))},
]


@pytest.fixture
def brought(cast):
    bring(cast.team, ROWS)
    # owed and late too, but entered by hand
    DeliverableFactory(lead=LeadFactory(team=cast.team), due_on=TODAY - timedelta(days=9))
    bring(cast.other_team, ROWS)
    return cast


def names(team) -> list[str]:
    return [d.lead.organisation for d in old_unsent(team)]


def page(slug: str = "harbour") -> str:
    return reverse("unsent", args=[slug])


def last(team) -> int:
    return max(d.pk for d in old_unsent(team))


def test_only_what_a_sheet_brought_late_and_unsent_is_asked_for(brought, sign_in):
    assert names(brought.team) == ["Kiln", "Fold"]
    shown = sign_in(brought.member).get(page()).content.decode()
    assert "brought 2 deliverables" in shown
    assert "Kiln" in shown
    assert "Fresh" not in shown


def test_kept_ones_are_owed_like_any_other(brought, sign_in):
    answer = {"answer": "keep", "up_to": last(brought.team)}
    shown = sign_in(brought.member).post(page(), answer, follow=True).content.decode()
    assert "Kept as owed: 2." in shown
    assert "Nothing waits for an answer" in shown
    owed = Deliverable.objects.for_team(brought.team).owed()
    assert {"Kiln", "Fold"} <= {d.lead.organisation for d in owed}
    assert len(names(brought.other_team)) == 2


def test_waived_ones_carry_day_reason_and_member_and_the_leads_owe_no_more(brought, sign_in):
    lead = old_unsent(brought.team)[0].lead
    assert lead.standing == Standing.OWED
    answer = {"answer": "waive", "reason": " long ago ", "up_to": last(brought.team)}
    client = sign_in(brought.member)
    assert "Waived: 2." in client.post(page(), answer, follow=True).content.decode()
    waived = Deliverable.objects.exclude(waived_on=None)
    assert {(d.waived_on, d.waived_reason, d.marked_by, d.version) for d in waived} == {
        (TODAY, "long ago", brought.member, 2)
    }
    lead.refresh_from_db()
    assert lead.standing == Standing.HELD
    again = client.post(page(), answer, follow=True).content.decode()
    assert "answered already" in again
    assert Deliverable.objects.exclude(waived_on=None).count() == 2


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"answer": "waive", "reason": "  "}, "Say why they will not be sent"),
        ({"answer": ""}, "Choose one of the two"),
        ({"answer": "burn"}, "Select a valid choice"),
    ],
)
def test_an_answer_that_says_too_little_is_refused_and_changes_nothing(
    brought, sign_in, typed, says
):
    answer = sign_in(brought.member).post(page(), typed | {"up_to": last(brought.team)})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert len(names(brought.team)) == 2
    with pytest.raises(Refused):
        waive_all(team=brought.team, member=None, now=NOW, reason="", up_to=10**9)


def test_what_came_in_since_the_page_was_opened_is_not_answered_for(brought):
    shown = last(brought.team)
    bring(brought.team, [{"organisation": "Newer"} | OLD])
    keep_owed(team=brought.team, up_to=shown)
    assert names(brought.team) == ["Newer"]


def test_the_same_sheet_again_does_not_ask_again(brought):
    keep_owed(team=brought.team, up_to=last(brought.team))
    bring(brought.team, ROWS)
    assert names(brought.team) == []
