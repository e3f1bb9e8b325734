"""A bad row drops only itself, whole, and says what would be right."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest

from pipeline.exchange.columns import IGNORED
from pipeline.exchange.reading import read
from pipeline.exchange.rejected import write_rejects
from pipeline.leads.models import Lead
from tests.conftest import TODAY
from tests.exchange.sheets import bring, facts, faults, sheet

YESTERDAY, TOMORROW = str(TODAY - timedelta(days=1)), str(TODAY + timedelta(days=1))
TODAY_ = str(TODAY)

# (cells beside the organisation, columns at fault)
BAD = [
    ({"organisation": "  "}, ["organisation"]),
    ({"organisation": "x" * 201}, ["organisation"]),
    ({"enquired_on": "31.12.2025"}, ["enquired_on"]),
    ({"enquired_on": "2025-02-29"}, ["enquired_on"]),
    ({"enquired_on": "2025-03-03T10:00"}, ["enquired_on"]),
    ({"enquired_on": "٢٠٢٥-٠٣-٠٣"}, ["enquired_on"]),
    ({"enquired_on": "2025-03"}, ["enquired_on"]),
    ({"session_on": "soon"}, ["session_on"]),
    ({"deliverable_sent_on": "yes"}, ["deliverable_sent_on"]),
    ({"funding_arrived_on": "2025"}, ["funding_arrived_on"]),
    ({"followed_since": "0000-01-01"}, ["followed_since"]),
    ({"funding_expected_on": "2025-13"}, ["funding_expected_on"]),
    ({"funding_expected_on": "Q3 2025"}, ["funding_expected_on"]),
    ({"session_on": TODAY_, "session_status": "done"}, ["session_status"]),
    ({"session_status": "held"}, ["session_on"]),
    ({"session_on": TOMORROW, "session_status": "held"}, ["session_on"]),
    ({"decision": "maybe", "decided_on": TODAY_}, ["decision"]),
    ({"decision": "engaged"}, ["decided_on"]),
    ({"decided_on": TODAY_}, ["decision"]),
    ({"decision": "engaged", "decided_on": TOMORROW}, ["decided_on"]),
    ({"later_decision": "engaged"}, ["later_decided_on"]),
    ({"later_decided_on": TODAY_}, ["later_decision"]),
    ({"later_decision": "engaged", "later_decided_on": TOMORROW}, ["later_decided_on"]),
    (
        {
            "decision": "no budget yet",
            "decided_on": TODAY_,
            "later_decision": "engaged",
            "later_decided_on": YESTERDAY,
        },
        ["later_decided_on"],
    ),
    ({"attendees": "-1"}, ["attendees"]),
    ({"attendees": "2.5"}, ["attendees"]),
    ({"attendees": "٣"}, ["attendees"]),
    ({"effort_minutes": "four hours"}, ["effort_minutes"]),
    ({"effort_minutes": "2147483648"}, ["effort_minutes"]),
    ({"effort_minutes": "9" * 5000}, ["effort_minutes"]),
    ({"fee": "-5"}, ["fee"]),
    ({"fee": "1,000"}, ["fee"]),
    ({"fee": "1e3"}, ["fee"]),
    ({"fee": "NaN"}, ["fee"]),
    ({"fee": "1.2345"}, ["fee"]),
    ({"fee": "1000000000000"}, ["fee"]),
    ({"fee": "5", "currency": "EURO"}, ["currency"]),
    ({"currency": "ZZZ"}, ["currency"]),
    ({"contact_email": "ana at lead"}, ["contact_email"]),
    (
        {"contact_email": f"{'a' * 60}@{'b' * 60}.{'c' * 60}.{'d' * 60}.{'e' * 20}"},
        ["contact_email"],
    ),
    ({"contact_name": "x" * 121}, ["contact_name"]),
    ({"source": "x" * 81}, ["source"]),
    ({"format": "x" * 81}, ["format"]),
    ({"deliverable": "x" * 121}, ["deliverable"]),
    ({"lead_ref": "x" * 201}, ["lead_ref"]),
    (
        {"organisation": "", "attendees": "few", "session_status": "held", "fee": "-"},
        ["organisation", "session_on", "attendees", "fee"],
    ),
]

GOOD = [
    {"session_on": TOMORROW},
    {"session_on": TOMORROW, "session_status": "booked"},
    {"session_on": TODAY_, "session_status": " HELD "},
    {"decision": " No  Budget\tYet ", "decided_on": TODAY_, "funding_expected_on": "2030-01"},
    {
        "decision": "engaged",
        "decided_on": TODAY_,
        "later_decision": "declined",
        "later_decided_on": TODAY_,
    },
    {"later_decision": "engaged", "later_decided_on": TODAY_},
    {"fee": "000999999999999.999000"},
    {"attendees": "0", "effort_minutes": "2147483647", "session_on": TODAY_},
    {"currency": "usd"},
    {"deliverable_sent_on": TOMORROW},
]


def row(cells: dict[str, str]) -> dict[str, str]:
    return {"organisation": "Kiln", "memo": "x"} | cells


@pytest.mark.parametrize(("cells", "columns"), BAD)
def test_each_kind_of_bad_row_is_named_by_its_column_and_lands_nothing(cast, cells, columns):
    report = bring(cast.team, [row(cells)])

    assert faults(report) == [(2, columns)]
    for fault in report.rejects[0].faults:
        assert fault.value == cells.get(fault.column, "").strip()
        assert fault.mend.endswith(".")
    assert not Lead.objects.exists()
    assert (report.leads_new, report.facts_new, report.sources, report.formats) == (0, {}, [], [])


@pytest.mark.parametrize("cells", GOOD)
def test_what_is_not_listed_as_bad_is_taken(cast, cells):
    assert bring(cast.team, [row(cells)]).rejects == []
    assert Lead.objects.count() == 1


def test_all_bad_rows_together_drop_only_themselves(cast):
    rows = []
    for n, (cells, _) in enumerate(BAD):
        rows += [row({"lead_ref": f"ok {n}"}), row({"lead_ref": f"ok {n}"} | cells)]
    columns = list(dict.fromkeys(name for r in rows for name in r))
    report = bring(cast.team, sheet(rows, columns))

    assert faults(report) == [(2 * n + 3, columns) for n, (_, columns) in enumerate(BAD)]
    assert report.leads_new == len(BAD)
    bring(cast.other_team, [row({"lead_ref": f"ok {n}"}) for n in range(len(BAD))])
    assert facts(cast.team) == facts(cast.other_team)


def test_a_row_with_more_cells_than_the_header_is_bad_and_one_with_fewer_is_not(cast):
    content = b"organisation,source,memo\nKiln\nFold,Fair,x,,\nGate,Fair,x,,surplus\n"
    report = bring(cast.team, content)
    assert faults(report) == [(4, [""])]
    assert set(Lead.objects.values_list("organisation", flat=True)) == {"Kiln", "Fold"}


def test_an_organisation_unlike_that_of_the_first_good_row_is_bad(cast):
    report = bring(
        cast.team,
        [
            {"lead_ref": "A", "organisation": "Never", "fee": "-1"},
            {"lead_ref": "A", "organisation": "Kiln & Co"},
            {"lead_ref": "A", "organisation": "KILN  & co", "fee": "5"},
            {"lead_ref": "A", "organisation": "Fold", "fee": "7"},
        ],
    )
    assert faults(report) == [(2, ["fee"]), (5, ["organisation"])]
    assert "Kiln & Co" in report.rejects[1].faults[0].mend
    lead = Lead.objects.get()
    assert (lead.organisation, lead.expected_fee, lead.note) == ("Kiln & Co", 5, "")


def test_an_organisation_unlike_that_of_the_teams_lead_is_bad_and_another_teams_is_nothing(cast):
    bring(cast.other_team, [{"lead_ref": "A", "organisation": "Fold"}])
    bring(cast.team, [{"lead_ref": "A", "organisation": "Kiln"}])
    report = bring(cast.team, [{"lead_ref": "A", "organisation": "Fold", "fee": "7"}])
    assert faults(report) == [(2, ["organisation"])]
    assert facts(cast.team)["A"]["fee"] is None


def test_a_renamed_lead_is_still_known_by_the_name_that_a_sheet_brought(cast):
    bring(cast.team, [{"lead_ref": "A", "organisation": "Kiln"}])
    Lead.objects.update(organisation="Kiln and Daughters")
    for name in ("Kiln", "Kiln and Daughters"):
        assert bring(cast.team, [{"lead_ref": "A", "organisation": name}]).rejects == []
    assert len(bring(cast.team, [{"lead_ref": "A", "organisation": "Fold"}]).rejects) == 1


def rejects_of(content: bytes, report) -> bytes:
    out = io.StringIO(newline="")
    write_rejects(out, read(content), report.rejects)
    return out.getvalue().encode()


def test_the_rejects_file_holds_the_row_and_what_is_wrong_and_can_be_mended_and_brought(cast):
    content = (
        b"lead_ref;organisation;memo;session_status;fee\n"
        b'A;Kiln;"two\nlines";;5\n'
        b'A;Kiln;"two\nmore";held;-5\n'
    )
    report = bring(cast.team, content)
    rejected = rejects_of(content, report)
    header, line = csv.reader(io.StringIO(rejected.decode()), delimiter=";")
    assert header == ["lead_ref", "organisation", "memo", "session_status", "fee", *IGNORED]
    assert line[:5] == ["A", "Kiln", "two\nmore", "held", "-5"]
    assert line[5:8] == ["4", "session_on; fee", "; -5"]
    assert line[8].startswith("Give the session's day")

    mended = rejected.replace(b"held;-5", b";50")
    again = bring(cast.team, mended)
    assert (again.rejects, again.unknown) == ([], ["memo"])
    # what a rejects file adds is not kept as a note, nor added twice
    assert Lead.objects.get().note == "memo: two\nlines\nmemo: two\nmore\nfee: 50 EUR"
    twice = rejects_of(rejected, bring(cast.team, rejected))
    assert next(csv.reader(io.StringIO(twice.decode()), delimiter=";")) == header


def test_no_cell_of_the_rejects_file_is_calculated_and_each_comes_back(cast):
    content = b"organisation,=memo,fee\n=Kiln(),@home,-5\n"
    rejected = rejects_of(content, bring(cast.team, content))
    header, line = csv.reader(io.StringIO(rejected.decode()))
    assert (header[:3], line[:3]) == (
        ["organisation", "'=memo", "fee"],
        ["'=Kiln()", "'@home", "-5"],
    )
    bring(cast.team, rejected.replace(b"-5", b"5", 1))
    lead = Lead.objects.get()
    assert (lead.organisation, lead.note) == ("=Kiln()", "=memo: @home")


def test_the_day_is_that_of_the_teams_zone(cast):
    # at ten in the evening of 2 March in New York it is 3 March in UTC
    from datetime import time

    from pipeline.clock.zones import at_local

    night = at_local(TODAY - timedelta(days=1), time(22), "America/New_York")
    rows = [{"organisation": "Kiln", "decision": "declined", "decided_on": TODAY_}]
    assert faults(bring(cast.other_team, rows, now=night)) == [(2, ["decided_on"])]
    assert bring(cast.team, rows, now=night).rejects == []
