"""A lead becomes as many rows as it needs; what a sheet can't hold is named."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime
from uuid import uuid4

from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pipeline.accounts.models import Invitation
from pipeline.enquiries.models import Arrival, EnquiryPage
from pipeline.exchange.left_out import NOTHING_OF, left_out
from pipeline.exchange.models import Sheet
from pipeline.exchange.writing import sheet_lines
from pipeline.followups.models import Digest, Feed
from pipeline.history.models import Change
from pipeline.jobs.models import Job, Round
from pipeline.leads.models import Contact, Decision, Funding, Lead, Merge, Source
from pipeline.results.models import ExchangeRate
from pipeline.teams.models import Submission, TeamOwned
from sessions.models import (
    Batch,
    BatchItem,
    CaughtUp,
    Deliverable,
    Desk,
    DiscoverySession,
    Format,
    LaneStep,
    Note,
    OfferedTime,
    OfferPlace,
    Opening,
    RunEvent,
)
from tests.conftest import NOW
from tests.exchange.sheets import bring, sheet
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    FormatFactory,
    LeadFactory,
    LogEntryFactory,
    ProposalFactory,
    SessionFactory,
)


def written(team) -> list[dict[str, str]]:
    """Return the filled cells of each row, without reference and organisation."""
    rows = csv.DictReader(io.StringIO("".join(sheet_lines(team)), newline=""))
    return [
        {k: v for k, v in row.items() if v and k not in ("lead_ref", "organisation")}
        for row in rows
    ]


def decide(lead, kind, month, **more):
    return DecisionFactory(lead=lead, kind=kind, day=date(2025, month, 1), **more)


def test_two_decisions_share_a_row_where_both_keep_their_fee_and_their_month(cast):
    lead = LeadFactory(team=cast.team, enquired_on=None)
    decide(lead, "engaged", 1, fee="100.50", currency="USD")
    decide(lead, "engaged", 2, fee="200", currency="EUR")
    decide(lead, "no budget yet", 3, funding_expected_on=date(2026, 7, 1))
    decide(lead, "no budget yet", 4, funding_expected_on=date(2026, 8, 1), expected_by_month=False)
    decide(lead, "gone quiet", 5)
    assert written(cast.team) == [
        {"decision": "engaged", "decided_on": "2025-01-01", "fee": "100.5", "currency": "USD"},
        {
            "decision": "engaged",
            "decided_on": "2025-02-01",
            "later_decision": "no budget yet",
            "later_decided_on": "2025-03-01",
            "fee": "200",
            "currency": "EUR",
            "funding_expected_on": "2026-07",
        },
        {
            "decision": "no budget yet",
            "decided_on": "2025-04-01",
            "later_decision": "gone quiet",
            "later_decided_on": "2025-05-01",
            "funding_expected_on": "2026-08-01",
        },
    ]


def test_the_fee_expected_of_a_lead_stands_in_a_row_without_an_engaged(cast):
    lead = LeadFactory(team=cast.team, enquired_on=None, expected_fee="7000")
    decide(lead, "engaged", 1)
    assert written(cast.team) == [
        {"decision": "engaged", "decided_on": "2025-01-01"},
        {"fee": "7000", "currency": "EUR"},
    ]


def test_each_deliverable_stands_with_its_session_and_a_waived_one_stays_behind(cast):
    lead = LeadFactory(team=cast.team, enquired_on=None)
    hour = FormatFactory(team=cast.team, name="Hour")
    day = date(2025, 1, 10)
    session = SessionFactory(
        lead=lead, format=hour, day=day, state="held", effort_before=10, effort_after=20
    )
    DeliverableFactory(lead=lead, session=session, title="Takeaway", sent_on=day)
    DeliverableFactory(lead=lead, session=session, title="Chart")
    DeliverableFactory(lead=lead, session=session, title="Film", waived_on=day)
    DeliverableFactory(lead=lead, title="Summary")
    at = {"format": "Hour", "session_on": "2025-01-10", "session_status": "held"}
    assert written(cast.team) == [
        at
        | {"effort_minutes": "30", "deliverable": "Takeaway", "deliverable_sent_on": "2025-01-10"},
        at | {"deliverable": "Chart"},
        {"deliverable": "Summary"},
    ]


def test_cells_with_quotes_delimiters_and_line_breaks_are_quoted(cast):
    # RFC 4180, section 2, rules 1, 6 and 7
    LeadFactory(team=cast.team, reference="A", organisation='Kiln, "the" old\none')
    line = list(sheet_lines(cast.team))[1]
    assert line.startswith('A,"Kiln, ""the"" old\none",')
    assert line.endswith("\r\n")


def test_another_teams_leads_are_not_in_the_sheet(cast):
    LeadFactory(team=cast.other_team)
    assert written(cast.team) == []


def test_what_a_sheet_cannot_hold_is_named_with_its_number(cast):
    lead = LeadFactory(team=cast.team, note="mind the dog", owner=cast.member, budget_at_entry=0)
    person = ContactFactory(lead=lead, role="founder")
    session = SessionFactory(
        lead=lead, starts_at=datetime(2026, 3, 3, 10, tzinfo=UTC), effort_after=30
    )
    session.attendees.add(person)
    for _ in range(3):
        LogEntryFactory(lead=lead)
    ProposalFactory(lead=lead)
    FollowUpFactory(lead=lead)
    Note.objects.create(team=cast.team, session=session, key=uuid4(), at=NOW, text="It leaks.")
    decide(lead, "declined", 1, reason="too far")
    DeliverableFactory(lead=lead, waived_on=date(2026, 1, 1), waived_reason="no")
    LogEntryFactory(lead=LeadFactory(team=cast.other_team))
    assert left_out(cast.team) == [
        "owners of leads: 1",
        "budgets at entry: 1",
        "notes on leads: 1",
        "roles and time zones of people: 1",
        "reasons of decisions: 1",
        "hours and places of sessions: 1",
        "sessions whose people are named: 1",
        "sessions whose effort is split: 1",
        "waived deliverables: 1",
        "due days of deliverables: 1",
        "conversations: 3",
        "proposals: 1",
        "notes of sessions: 1",
        "follow-ups: 1",
    ]
    assert left_out(cast.other_team) == ["conversations: 1"]


def test_every_table_of_a_team_is_in_the_sheet_or_named_among_what_it_leaves_out():
    in_the_sheet = {
        Lead,
        Source,
        Contact,
        Decision,
        Funding,
        DiscoverySession,
        Deliverable,
        Format,
    }
    # what hangs on a row that is named, and how requests and work were carried out
    carried_out = {Submission, Merge, Batch, BatchItem, CaughtUp, LaneStep, OfferedTime}
    carried_out |= {OfferPlace, Desk, RunEvent, Opening, Digest, Feed, Sheet}
    # who was asked into the team
    carried_out |= {Invitation}
    # work that is due, and what was changed or removed
    carried_out |= {Job, Round, Change}
    # a setting of the enquiry page, and from where enquiries came, for a day
    carried_out |= {EnquiryPage, Arrival}
    # a setting of the results, which stand beside the sheet
    carried_out |= {ExchangeRate}
    tables = {model for model in apps.get_models() if issubclass(model, TeamOwned)}
    assert tables == in_the_sheet | carried_out | set(NOTHING_OF.values())


def test_the_number_of_queries_does_not_depend_on_the_number_of_leads(cast):
    def queries() -> list[str]:
        with CaptureQueriesContext(connection) as captured:
            written(cast.team)
        return [query["sql"] for query in captured]

    row = {"contact_name": "Ana", "format": "Hour", "session_on": "2025-01-10", "source": "Fair"}
    bring(cast.team, sheet([{"organisation": "Kiln"} | row], ["organisation", *row]))
    few = queries()
    bring(
        cast.team,
        sheet([{"organisation": f"O{n}"} | row for n in range(60)], ["organisation", *row]),
    )
    many = queries()
    # keys of a batch; leads, people, sessions, deliverables, decisions, fundings; the end
    assert len(few) == len(many) == 8
