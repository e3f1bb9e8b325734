"""The same sheet twice changes nothing; what is known is filled up, never overwritten."""

from __future__ import annotations

import threading
from datetime import date

import pytest
from django.db import connection

from pipeline.leads.merging import merge, unmerge
from pipeline.leads.models import Decision, Lead
from sessions.models import Deliverable, DiscoverySession
from tests.conftest import NOW
from tests.exchange.sheets import bring, facts, sheet
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    FormatFactory,
    LeadFactory,
    SessionFactory,
    SourceFactory,
)

FULL = {
    "lead_ref": "A",
    "organisation": "Kiln",
    "contact_name": "Ana Ruiz",
    "contact_email": "ana@kiln.example",
    "source": "Fair",
    "enquired_on": "2025-01-02",
    "format": "Hour",
    "session_on": "2025-01-10",
    "session_status": "held",
    "attendees": "4",
    "effort_minutes": "240",
    "deliverable": "Takeaway",
    "deliverable_sent_on": "2025-01-14",
    "decision": "no budget yet",
    "decided_on": "2025-02-01",
    "funding_expected_on": "2025-09",
    "funding_arrived_on": "2025-09-15",
    "later_decision": "engaged",
    "later_decided_on": "2025-10-01",
    "fee": "12500.50",
    "currency": "USD",
    "followed_since": "2025-01-01",
    "memo": "green door",
}


def everything() -> list:
    """Return every column of every row, versions and keys included."""
    tables = (Lead, Decision, DiscoverySession, Deliverable)
    return [list(table.objects.order_by("pk").values()) for table in tables]


def test_the_same_file_twice_changes_nothing_and_says_what_matched(cast):
    rows = [FULL, {**FULL, "session_on": "2025-02-01", "memo": "x"}, {"organisation": "Fold"}]
    first = bring(cast.team, rows)
    before = everything()
    second = bring(cast.team, rows)

    assert everything() == before
    assert (first.leads_new, first.leads_matched) == (2, 0)
    assert (second.leads_new, second.leads_matched, second.leads_changed) == (0, 2, 0)
    assert second.facts_new == {}
    assert second.facts_matched == first.facts_new
    assert (second.formats, second.sources) == ([], [])


def test_the_nth_equal_row_is_the_nth_lead(cast):
    row = {"organisation": "Kiln", "enquired_on": "2025-01-02"}
    assert bring(cast.team, [row, row]).leads_new == 2
    report = bring(cast.team, [row, row, row])
    assert (report.leads_new, report.leads_matched) == (1, 2)
    assert Lead.objects.count() == 3


def test_a_row_is_known_again_whatever_the_delimiter_the_order_and_the_blanks(cast):
    bring(cast.team, b"organisation,source,memo\nKiln, Fair ,\n")
    report = bring(cast.team, b"\xef\xbb\xbfSource;Organisation;other\r\nFair;Kiln;\r\n")
    assert (report.leads_new, report.leads_matched) == (0, 1)


def test_a_row_whose_cells_differ_is_another_lead(cast):
    bring(cast.team, [{"organisation": "Kiln", "memo": "a"}])
    assert bring(cast.team, [{"organisation": "Kiln", "memo": "b"}]).leads_new == 1


def test_the_same_reference_in_another_team_is_another_lead(cast):
    bring(cast.team, [FULL])
    assert bring(cast.other_team, [FULL]).leads_new == 1


def test_only_blanks_are_filled_and_what_differs_is_noted_once(cast):
    stored = LeadFactory(
        team=cast.team,
        reference="A",
        organisation="Kiln",
        enquired_on=date(2025, 1, 1),
        source=SourceFactory(team=cast.team, name="Letter"),
        note="as we said\r\nsource: Fair",
    )
    ContactFactory(lead=stored, name="", email="ANA@kiln.example")
    hour = FormatFactory(team=cast.team, name="Hour")
    session = SessionFactory(
        lead=stored, format=hour, day=date(2025, 1, 10), effort_before=30, attendee_count=None
    )
    DeliverableFactory(lead=stored, session=session, title="Takeaway")
    DecisionFactory(lead=stored, kind="engaged", day=date(2025, 10, 1), fee="9000", currency="EUR")
    first = bring(cast.team, [FULL])
    before = everything()
    assert (first.leads_new, first.leads_matched, first.leads_changed) == (0, 1, 1)
    assert bring(cast.team, [FULL]).leads_changed == 0
    assert everything() == before

    found = facts(cast.team)["A"]
    assert (found["source"], found["enquired_on"]) == ("Letter", date(2025, 1, 1))
    assert found["contacts"] == {("Ana Ruiz", "ANA@kiln.example")}
    assert found["sessions"] == {(date(2025, 1, 10), "Hour"): ("held", 4, 30)}
    assert found["deliverables"] == {((date(2025, 1, 10), "Hour"), "Takeaway", date(2025, 1, 14))}
    assert found["decisions"]["engaged", date(2025, 10, 1)][:2] == (9000, "EUR")
    assert Lead.objects.get().note.splitlines() == [
        "as we said",
        "source: Fair",
        "memo: green door",
        "enquired_on: 2025-01-02",
        "effort_minutes: 240 (session_on 2025-01-10)",
        "fee: 12500.5 USD (engaged, decided_on 2025-10-01)",
    ]


def test_a_filled_row_goes_up_one_version_so_that_an_open_form_is_told(cast):
    stored = LeadFactory(team=cast.team, reference="A", organisation="Kiln", enquired_on=None)
    bring(cast.team, [FULL])
    assert Lead.objects.get(pk=stored.pk).version == stored.version + 1


def test_a_stored_session_only_goes_on(cast):
    stored = LeadFactory(team=cast.team, reference="A", organisation="Kiln")
    hour = FormatFactory(team=cast.team, name="Hour")
    session = SessionFactory(lead=stored, format=hour, day=date(2025, 1, 10))
    for status, state in [("missed", "missed"), ("booked", "missed"), ("held", "held")]:
        bring(cast.team, [{**FULL, "session_status": status}])
        session.refresh_from_db()
        assert session.state == state


def test_a_waived_deliverable_stays_waived(cast):
    bring(cast.team, [{**FULL, "deliverable_sent_on": ""}])
    Deliverable.objects.update(waived_on=date(2025, 3, 1), waived_reason="asked us not to")
    bring(cast.team, [FULL])
    assert Deliverable.objects.get().sent_on is None
    assert (
        "deliverable_sent_on: 2025-01-14 (Takeaway, which was waived)" in Lead.objects.get().note
    )


def test_a_lead_with_a_budget_in_one_currency_keeps_a_fee_in_another_as_a_note(cast):
    LeadFactory(
        team=cast.team, reference="A", organisation="Kiln", budget_at_entry=1, currency="EUR"
    )
    bring(cast.team, [{"lead_ref": "A", "organisation": "Kiln", "fee": "5", "currency": "USD"}])
    lead = Lead.objects.get()
    assert (lead.expected_fee, lead.currency, lead.note) == (None, "EUR", "fee: 5 USD")


def test_the_facts_of_a_lead_that_was_merged_go_to_the_one_that_was_kept(cast):
    rows = [
        {**FULL, "lead_ref": ref, "organisation": ref, "session_on": f"2025-01-1{n}"}
        for n, ref in enumerate("ABC")
    ]
    bring(cast.team, rows)
    a, b, c = Lead.objects.order_by("reference")
    merge(kept=b, gone=c, member=cast.member, now=NOW)
    merge(kept=a, gone=b, member=cast.member, now=NOW)
    before = facts(cast.team)

    report = bring(cast.team, rows)
    assert (report.leads_new, report.leads_matched, report.facts_new) == (0, 1, {})
    assert facts(cast.team) == before

    bring(cast.team, [{"lead_ref": "C", "organisation": "C", "session_on": "2025-03-01"}])
    assert (date(2025, 3, 1), "") in facts(cast.team)["A"]["sessions"]


def test_a_format_that_was_filled_in_since_does_not_bring_the_session_twice(cast):
    rows = [{"lead_ref": "A", "organisation": "Kiln", "session_on": "2025-01-10"}]
    bring(cast.team, rows)
    DiscoverySession.objects.update(format=FormatFactory(team=cast.team, name="Hour"))
    assert bring(cast.team, rows).facts_new == {}


@pytest.mark.django_db(transaction=True)
def test_two_imports_of_one_file_at_once_write_it_once(cast):
    rows = [{**FULL, "lead_ref": f"L{n}"} for n in range(30)] + [{"organisation": "Fold"}] * 5
    content = sheet(rows, FULL)
    start, failed = threading.Barrier(2), []

    def work() -> None:
        try:
            start.wait()
            bring(cast.team, content)
        except Exception as error:
            failed.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failed == []
    assert Lead.objects.count() == 35
    assert DiscoverySession.objects.count() == 30
    assert Decision.objects.count() == 60


def test_after_a_merge_the_same_sheet_changes_nothing_and_parting_gives_back_what_was(cast):
    rows = [
        {"lead_ref": "A", "organisation": "Kiln"},
        {"lead_ref": "B", "organisation": "Kiln Works", "source": "Fair", "fee": "70"}
        | {"enquired_on": "2025-01-10", "followed_since": "2025-02-01", "region": "north"},
    ]
    columns = list(rows[1])
    bring(cast.team, sheet(rows, columns))
    kept, gone = (Lead.objects.get(reference=name) for name in "AB")
    merged = merge(kept=kept, gone=gone, member=cast.owner, now=NOW)
    again = bring(cast.team, sheet(rows, columns))
    assert (again.leads_new, again.leads_changed) == (0, 0)
    unmerge(merge=merged, now=NOW)
    kept.refresh_from_db()
    assert (kept.source, kept.followed_since, kept.expected_fee) == (None, None, None)
    assert kept.note == ""
