"""A spreadsheet brought in the browser: looked at first, rejects taken along, taken in once."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from pipeline.leads.models import Lead
from pipeline.mail.models import Letter
from tests.browser.hands import follow, headed, press, says
from tests.exchange.sheets import sheet
from tests.factories import LeadFactory

pytestmark = pytest.mark.browser

ROWS = [
    {
        "organisation": "Alderwick Dairy",
        "format": "Discovery hour",
        "session_on": "2025-11-04",
        "session_status": "held",
        "deliverable": "Takeaway",
    },
    {"organisation": "Brack & Sons", "enquired_on": "2026-02-30"},
    {"organisation": "", "contact_name": "Nobody’s"},
    {"organisation": "Crane Hire", "contact_email": "desk@crane.example"},
]


def test_a_sheet_is_looked_at_then_taken_in_once(equipped, window):
    page = window(equipped.member)
    page.goto("/t/harbour/leads/")
    follow(page, "Bring leads from a spreadsheet, or take them along in one")
    press(page, "Hand it in")
    expect(page.get_by_role("main")).to_contain_text("Choose the CSV file.")

    file = {"name": "old leads.csv", "mimeType": "text/csv", "buffer": sheet(ROWS)}
    page.get_by_label("CSV file").set_input_files(file)
    page.get_by_role("button", name="Hand it in").dblclick()
    headed(page, "old leads.csv")
    rejected = page.get_by_role("region", name="Rejected rows")
    expect(rejected).to_contain_text("Line 3")
    expect(rejected).to_contain_text("2026-02-30")
    expect(rejected).to_contain_text("Line 4")
    assert not Lead.objects.exists()

    with page.expect_download() as download:
        rejected.get_by_role("link", name="as CSV").click()
    assert download.value.suggested_filename == "rejects.csv"
    lines = Path(download.value.path()).read_text("utf-8-sig").splitlines()
    assert lines[0].endswith("reject_line,reject_column,reject_value,reject_mend")
    assert [line for line in lines if "2026-02-30" in line]

    earlier = page.context.new_page()
    earlier.goto(page.url)
    press(page, "Take it in")
    says(page, "is taken in. Nothing was sent to anybody.")
    press(earlier, "Take it in")
    says(earlier, "was already taken in; nothing was done again.")
    names = Lead.objects.order_by("organisation").values_list("organisation", flat=True)
    assert list(names) == ["Alderwick Dairy", "Crane Hire"]
    assert not Letter.objects.exists()

    follow(page, "Keep or waive them, all at once")
    page.get_by_label("They will not be sent any more").check()
    press(page, "Answer for all")
    expect(page.get_by_role("main")).to_contain_text("Say why they will not be sent.")
    page.get_by_label("Why they are waived").fill("From before our time.")
    press(page, "Answer for all")
    says(page, "Waived: 1.")


def test_the_same_sheet_again_says_that_all_is_known(equipped, window):
    page = window(equipped.member)
    for name in ("first.csv", "second.csv"):
        page.goto("/t/harbour/sheets/")
        page.get_by_label("CSV file").set_input_files(
            {"name": name, "mimeType": "text/csv", "buffer": sheet(ROWS[3:])}
        )
        press(page, "Hand it in")
        headed(page, name)
        if name == "second.csv":
            expect(page.get_by_role("main")).to_contain_text("would change nothing")
        press(page, "Take it in")
        says(page, "is taken in.")
    assert Lead.objects.count() == 1


def test_the_leads_come_along_as_a_sheet(equipped, window):
    LeadFactory(team=equipped.team, organisation="Dunlin Ferries")
    page = window(equipped.reader)
    page.goto("/t/harbour/sheets/")
    with page.expect_download() as download:
        follow(page, "Download all leads as CSV")
    assert download.value.suggested_filename == "leads-harbour-2026-03-03.csv"
    assert "Dunlin Ferries" in Path(download.value.path()).read_text("utf-8-sig")
