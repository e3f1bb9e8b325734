"""A lead's history, in order of time."""

from datetime import date
from decimal import Decimal

import pytest

from pipeline.followups.history import Rows, history, the_return
from pipeline.leads.models import Decision
from tests.conftest import TODAY
from tests.factories import (
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    FundingFactory,
    LeadFactory,
    LogEntryFactory,
    ProposalFactory,
    SessionFactory,
)


def decided(*facts):
    return [Decision(kind=kind, day=date.fromisoformat(day)) for day, kind in facts]


@pytest.mark.parametrize(
    ("facts", "index", "expected"),
    [
        ([("2026-01-05", "no budget yet"), ("2026-03-03", "engaged")], "2026-01-02", 1),
        # the same day, whatever the order in which they were entered
        ([("2026-01-05", "engaged"), ("2026-01-05", "no budget yet")], "2026-01-02", 0),
        # no session: an engagement that follows "no budget yet" all the same
        ([("2026-01-05", "no budget yet"), ("2026-03-03", "engaged")], None, 1),
        # what was said before the session starts nothing
        ([("2026-01-01", "no budget yet"), ("2026-03-03", "engaged")], "2026-01-02", None),
        # a close, or an engagement, on an earlier day
        (
            [
                ("2026-01-05", "no budget yet"),
                ("2026-02-02", "declined"),
                ("2026-03-03", "engaged"),
            ],
            "2026-01-02",
            None,
        ),
        (
            [
                ("2026-01-03", "engaged"),
                ("2026-01-05", "no budget yet"),
                ("2026-03-03", "engaged"),
            ],
            "2026-01-02",
            None,
        ),
        # on one day an engagement comes before a close
        (
            [
                ("2026-01-05", "no budget yet"),
                ("2026-03-03", "declined"),
                ("2026-03-03", "engaged"),
            ],
            "2026-01-02",
            2,
        ),
        ([("2026-01-05", "no budget yet"), ("2026-03-03", "gone quiet")], "2026-01-02", None),
        ([("2026-01-05", "engaged")], "2026-01-02", None),
    ],
)
def test_a_return_is_the_first_engagement_after_no_budget_yet(facts, index, expected):
    decisions = decided(*facts)
    found = the_return(decisions, date.fromisoformat(index) if index else None)
    assert found is (None if expected is None else decisions[expected])


@pytest.mark.django_db
def test_every_fact_is_told_once_in_order_of_time(cast):
    lead = LeadFactory(team=cast.team, enquired_on=date(2025, 1, 7))
    log = LogEntryFactory(lead=lead, day=date(2025, 1, 8), who="Ana", recorded_by=cast.member)
    missed = SessionFactory(lead=lead, day=date(2025, 1, 14), state="missed", reason="Ill.")
    held = SessionFactory(lead=lead, day=date(2025, 1, 21), state="held", attendee_count=4)
    sent = DeliverableFactory(
        lead=lead,
        session=held,
        title="Map",
        due_on=date(2025, 1, 24),
        sent_on=date(2025, 1, 27),
        sent_to="Ana",
    )
    waived = DeliverableFactory(
        lead=lead,
        session=held,
        title="Chart",
        due_on=date(2025, 1, 24),
        waived_on=date(2025, 1, 28),
        waived_reason="Part of the map.",
    )
    proposal = ProposalFactory(
        lead=lead, sent_on=date(2025, 2, 3), fee=Decimal("9000"), currency="EUR"
    )
    waits = DecisionFactory(
        lead=lead,
        day=date(2025, 2, 10),
        funding_expected_on=date(2026, 1, 1),
        funding_from="a grant",
        reason="The year is spent.",
    )
    asked = FollowUpFactory(
        lead=lead, action="Ask", state="done", closed_on=date(2025, 5, 12), closed_by=cast.owner
    )
    still_open = FollowUpFactory(lead=lead, action="Not yet")
    money = FundingFactory(lead=lead, arrived_on=date(2026, 1, 9))
    engaged = DecisionFactory(
        lead=lead, kind="engaged", day=date(2026, 2, 2), fee=Decimal("8000"), currency="EUR"
    )
    rows = Rows(
        [log],
        [missed, held],
        [waived, sent],
        [proposal],
        [waits, engaged],
        [money],
        [asked, still_open],
    )
    assert [
        (event.day.isoformat(), event.what, event.details)
        for event in history(lead, cast.team, rows)
    ] == [
        ("2025-01-07", "They enquired", ()),
        ("2025-01-08", "Call with Ana", ("They asked for dates.", "noted by Mateus Coelho")),
        ("2025-01-14", "Session missed", (missed.format.name, "Ill.")),
        ("2025-01-21", "Session held", (f"{held.format.name}, 4 came",)),
        ("2025-01-21", "Promised: Chart", ("due Fri 24 Jan 2025",)),
        ("2025-01-21", "Promised: Map", ("due Fri 24 Jan 2025",)),
        ("2025-01-27", "Sent: Map", ("to Ana, after it was due",)),
        ("2025-01-28", "Waived: Chart", ("Part of the map.",)),
        ("2025-02-03", "Proposal sent", ("9,000.00 EUR",)),
        (
            "2025-02-10",
            "Decision: no budget yet",
            ("money expected January 2026, from a grant", "The year is spent."),
        ),
        ("2025-05-12", "Follow-up done: Ask", ("by Olive Brandt",)),
        ("2026-01-09", "Funding arrived", ()),
        ("2026-02-02", "Decision: engaged", ("8,000.00 EUR",)),
    ]
    returned = history(lead, cast.team, rows)[-1]
    assert (returned.is_return, returned.earned_by) == (True, held)


@pytest.mark.django_db
def test_a_lead_without_a_day_of_enquiry_starts_when_it_was_logged(cast):
    lead = LeadFactory(team=cast.team, enquired_on=None)
    (event,) = history(lead, cast.team, Rows())
    assert (event.day, event.what) == (date(2026, 3, 3), "The lead was logged")


@pytest.mark.django_db
def test_what_an_import_brought_is_promised_no_later_than_it_was_sent(cast):
    lead = LeadFactory(team=cast.team)
    sent = DeliverableFactory(lead=lead, sent_on=date(2024, 5, 6))
    events = history(lead, cast.team, Rows(deliverables=[sent]))
    assert [event.day for event in events[:2]] == [date(2024, 5, 6)] * 2


def test_follow_ups_that_one_fact_ended_are_told_in_one_line(cast):
    lead = LeadFactory(team=cast.team)
    ended = {"state": "ended", "closed_on": TODAY, "reason": "engaged on 3 Mar 2026"}
    rows = [FollowUpFactory(lead=lead, action="Ask again", **ended) for _ in range(3)]
    rows += [FollowUpFactory(lead=lead, action="Ask again", state="done", closed_on=TODAY)]

    told = [event.what for event in history(lead, cast.team, Rows(follow_ups=rows))]

    assert told == [
        "They enquired",
        "3 follow-ups ended by themselves: Ask again",
        "Follow-up done: Ask again",
    ]
