"""The facts of all rows of a lead unite; what can't be held twice is kept in the note."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from pipeline.leads.models import Contact, Decision, Lead
from sessions.models import Deliverable, DiscoverySession, Format
from tests.conftest import TODAY
from tests.exchange.sheets import bring, facts


def lead(cast, *rows: dict[str, str]):
    """Bring rows of one lead; return its facts."""
    report = bring(cast.team, [{"lead_ref": "A", "organisation": "Kiln"} | row for row in rows])
    assert report.rejects == []
    return facts(cast.team)["A"]


def test_the_same_kind_on_the_same_day_counts_once(cast):
    row = {
        "format": "Hour",
        "session_on": "2026-01-05",
        "session_status": "held",
        "deliverable": "Takeaway",
        "decision": "engaged",
        "decided_on": "2026-02-01",
        "funding_arrived_on": "2026-01-20",
        "contact_email": "ana@kiln.example",
    }
    found = lead(cast, row, row, row | {"contact_email": "ANA@kiln.example"})
    assert len(found["contacts"]) == len(found["fundings"]) == 1
    assert list(found["sessions"]) == [(date(2026, 1, 5), "Hour")]
    assert list(found["decisions"]) == [("engaged", date(2026, 2, 1))]
    assert len(found["deliverables"]) == 1


def test_what_became_of_a_session_outweighs_what_was_planned(cast):
    day = {"session_on": "2026-01-05"}
    for states, outcome in [
        (["", "cancelled"], "cancelled"),
        (["missed", "cancelled"], "missed"),
        (["held", "missed", "booked"], "held"),
    ]:
        Lead.objects.all().delete()
        found = lead(cast, *(day | {"session_status": state} for state in states))
        assert [s[0] for s in found["sessions"].values()] == [outcome]


def test_a_day_without_a_status_is_a_booking_even_in_the_past(cast):
    found = lead(cast, {"session_on": "2020-01-05"})
    assert found["sessions"] == {(date(2020, 1, 5), ""): ("booked", None, None)}
    assert found["index"] == (None, None)


def test_of_two_sessions_held_on_one_day_the_first_held_row_counts(cast):
    day = {"session_on": "2026-01-05"}
    found = lead(
        cast,
        day | {"format": "Later held", "session_status": "booked"},
        day | {"format": "First held", "session_status": "held"},
        day | {"format": "Later held", "session_status": "held"},
    )
    assert found["index"] == (date(2026, 1, 5), "First held")


def test_a_fee_belongs_to_the_last_engaged_of_its_row(cast):
    found = lead(
        cast,
        {"decision": "engaged", "decided_on": "2025-01-01", "fee": "100"}
        | {"later_decision": "engaged", "later_decided_on": "2025-02-01", "currency": "usd"},
        {"decision": "engaged", "decided_on": "2025-03-01", "fee": "300"}
        | {"later_decision": "declined", "later_decided_on": "2025-04-01"},
    )
    fees = {day.month: value[:2] for (_, day), value in found["decisions"].items()}
    assert fees == {1: (None, ""), 2: (100, "USD"), 3: (300, "EUR"), 4: (None, "")}
    assert found["fee"] is None


def test_a_fee_without_an_engaged_is_expected_of_the_lead_and_a_second_one_a_note(cast):
    found = lead(cast, {"fee": "100.50", "currency": "USD"}, {"fee": "100.5", "currency": "usd"})
    assert found["fee"] == (Decimal("100.5"), "USD")
    assert Lead.objects.get().note == ""
    lead(cast, {"fee": "200"})
    assert Lead.objects.get().note == "fee: 200 EUR"


def test_money_expected_belongs_to_the_last_no_budget_yet_of_its_row(cast):
    found = lead(
        cast,
        {"decision": "no budget yet", "decided_on": "2025-01-01", "funding_expected_on": "2026-07"}
        | {"later_decision": "no budget yet", "later_decided_on": "2025-02-01"},
        {"decision": "no budget yet", "decided_on": "2025-03-01"}
        | {"later_decision": "engaged", "later_decided_on": "2025-04-01"}
        | {"funding_expected_on": "2026-08-15"},
    )
    expected = {day.month: value[2] for (_, day), value in found["decisions"].items()}
    assert expected == {
        1: (None, None),
        2: (date(2026, 7, 1), True),
        3: (date(2026, 8, 15), False),
        4: (None, None),
    }


def test_money_expected_in_a_row_without_one_goes_to_the_latest_that_lacks_it_else_to_the_note(
    cast,
):
    found = lead(
        cast,
        {"funding_expected_on": "2026-07"},
        {"decision": "no budget yet", "decided_on": "2025-01-01"},
        {"decision": "no budget yet", "decided_on": "2025-02-01"},
        {"funding_expected_on": "2026-08"},
        {"funding_expected_on": "2026-09"},
    )
    expected = {day.month: value[2][0] for (_, day), value in found["decisions"].items()}
    assert expected == {2: date(2026, 7, 1), 1: date(2026, 8, 1)}
    assert Lead.objects.get().note == "funding_expected_on: 2026-09"


def test_of_what_a_lead_holds_once_the_first_stands_and_the_others_are_noted(cast):
    found = lead(
        cast,
        {"source": "", "enquired_on": "2025-01-01"},
        {"source": "Fair", "enquired_on": "2025-01-02", "followed_since": "2025-06-01"},
        {"source": "Letter", "enquired_on": "2025-01-01"},
    )
    assert (found["source"], found["enquired_on"]) == ("Fair", date(2025, 1, 1))
    assert found["followed_since"] == date(2025, 6, 1)
    assert Lead.objects.get().note == "source: Letter\nenquired_on: 2025-01-02"


def test_people_unite_by_address_else_by_name(cast):
    found = lead(
        cast,
        {"contact_name": "Ana"},
        {"contact_email": "bo@kiln.example"},
        {"contact_name": "ANA", "contact_email": "Ana@kiln.example"},
        {"contact_name": "Ana", "contact_email": "other@kiln.example"},
        {"contact_name": "Bo", "contact_email": "BO@kiln.example"},
        {"contact_name": "Robert", "contact_email": "bo@kiln.example"},
    )
    assert {(n.casefold(), e.casefold()) for n, e in found["contacts"]} == {
        ("ana", "ana@kiln.example"),
        ("ana", "other@kiln.example"),
        ("bo", "bo@kiln.example"),
    }
    assert Lead.objects.get().note == "contact_name: Robert (bo@kiln.example)"


def test_attendees_and_effort_go_to_the_session_of_their_row(cast):
    day = {"session_on": "2026-01-05", "format": "Hour"}
    lead(cast, day | {"attendees": "4"}, day | {"effort_minutes": "240", "attendees": "5"})
    session = DiscoverySession.objects.get()
    assert (session.attendee_count, session.effort_unsplit, session.effort) == (4, 240, 240)
    assert session.starts_at is None
    assert Lead.objects.get().note == "attendees: 5 (session_on 2026-01-05)"


def test_what_describes_a_session_without_its_day_is_a_note_and_creates_no_format(cast):
    lead(cast, {"format": "Hour", "attendees": "4", "effort_minutes": "60"})
    assert Lead.objects.get().note.splitlines() == [
        "format (without session_on): Hour",
        "attendees (without session_on): 4",
        "effort_minutes (without session_on): 60",
    ]
    assert not Format.objects.exists()


def test_a_deliverable_belongs_to_the_session_of_its_row_or_to_none(cast):
    found = lead(
        cast,
        {"session_on": "2026-01-05", "format": "Hour", "deliverable_sent_on": "2026-01-09"},
        {"session_on": "2026-01-05", "format": "Hour", "deliverable": "Lane chart"},
        {"deliverable": "Summary"},
    )
    at = (date(2026, 1, 5), "Hour")
    assert found["deliverables"] == {
        (at, "Takeaway", date(2026, 1, 9)),
        (at, "Lane chart", None),
        (None, "Summary", None),
    }


def test_a_deliverable_is_due_when_its_format_promises_else_in_five_working_days(cast):
    hour = Format.objects.create(team=cast.team, name="Hour")
    hour.promises.create(team=cast.team, title="Takeaway", working_days=2)
    day = {"session_on": "2026-01-05", "format": "Hour", "enquired_on": "2025-12-01"}
    lead(cast, day | {"deliverable": "Takeaway"}, day | {"deliverable": "Chart"})
    lead(cast, {"deliverable": "Summary"})
    bring(cast.team, [{"organisation": "Bare", "deliverable": "No day at all"}])
    bring(cast.team, [{"organisation": "B", "deliverable_sent_on": "2026-01-05"}])
    due = dict(Deliverable.objects.exclude(lead__organisation="B").values_list("title", "due_on"))
    # 5 January 2026 is a Monday; 1 and 8 December are holidays in Portugal
    assert due == {
        "Takeaway": date(2026, 1, 7),
        "Chart": date(2026, 1, 12),
        "Summary": date(2025, 12, 9),
        "No day at all": date(2026, 3, 10),
    }
    assert Deliverable.objects.get(lead__organisation="B").due_on == date(2026, 1, 12)


def test_unknown_columns_are_named_and_kept_once(cast):
    report = bring(
        cast.team,
        [
            {"lead_ref": "A", "organisation": "Kiln", "Shoe size": "44", "mood": ""},
            {"lead_ref": "A", "organisation": "Kiln", "Shoe size": "44", "mood": "a\nb"},
        ],
    )
    assert report.unknown == ["Shoe size", "mood"]
    assert Lead.objects.get().note == "Shoe size: 44\nmood: a\nb"


def test_formats_and_sources_are_created_and_a_version_in_use_is_taken(cast):
    Format.objects.create(team=cast.other_team, name="Hour")
    old = Format.objects.create(team=cast.team, name="Hour", retired_on=TODAY)
    new = Format.objects.create(team=cast.team, name="Hour", version=2, minutes=75)
    report = bring(
        cast.team,
        [
            {
                "organisation": "Kiln",
                "format": "Hour",
                "session_on": "2026-01-05",
                "source": "Fair",
            },
            {
                "organisation": "Fold",
                "format": "Walk",
                "session_on": "2026-01-05",
                "source": "Fair",
            },
        ],
    )
    assert (report.formats, report.sources) == (["Walk"], ["Fair"])
    sessions = DiscoverySession.objects.order_by("pk")
    assert [(s.format.name, s.minutes) for s in sessions] == [("Hour", 75), ("Walk", 60)]
    assert sessions[0].format == new != old


def test_facts_are_entered_today_so_that_only_what_lies_ahead_is_planned(cast):
    lead(
        cast,
        {"session_on": "2026-01-05", "deliverable": "Takeaway", "funding_arrived_on": "2026-01-09"}
        | {"decision": "no budget yet", "decided_on": "2025-01-01"},
    )
    for table in (DiscoverySession, Deliverable, Decision):
        assert table.objects.get().plan_from == TODAY
    assert Lead.objects.get().fundings.get().plan_from == TODAY
    assert Contact.objects.count() == 0
