"""Whatever stands in a sheet: a row is rejected in words, or kept as it stands."""

from __future__ import annotations

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.exchange.columns import COLUMNS
from pipeline.exchange.reading import Unreadable, read
from pipeline.exchange.writing import sheet_lines
from pipeline.teams.models import Team
from tests.access.everything import A_PICTURE
from tests.access.hurting import ANYTHING, DAYS, MONTHS, NUMBERS, WORDS
from tests.exchange.sheets import bring, facts, sheet

always = settings(
    max_examples=40,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
USUAL = {
    "session_on": ["2026-01-05"],
    "session_status": ["held"],
    "decision": ["engaged", "no budget yet"],
    "decided_on": ["2026-02-03"],
    "later_decision": ["engaged"],
    "later_decided_on": ["2026-02-04"],
    "currency": ["EUR"],
    "contact_email": ["ana@lead.example"],
}
DATED = [name for name in COLUMNS if name.endswith(("_on", "_since"))]
LIKELY = {name: [*DAYS, *MONTHS] for name in DATED} | dict.fromkeys(
    ("fee", "attendees", "effort_minutes"), NUMBERS
)
# Those two make the whole file no text, see below and test_reading.py.
WHOLE = [word for word in ANYTHING if not {"\ud800", "\0"} & set(word)]
WORDY = [word for word in WORDS if word in WHOLE]


def cells(name: str) -> st.SearchStrategy[str]:
    """Return what may stand in a column: often what is usual there, else what hurts."""
    usual = st.sampled_from(USUAL.get(name, [""]))
    if name == "organisation":
        return st.sampled_from(["Kiln", *WORDY])
    return (
        usual | usual | usual | st.sampled_from(LIKELY.get(name, WORDY)) | st.sampled_from(WHOLE)
    )


ROWS = st.fixed_dictionaries({name: cells(name) for name in COLUMNS} | {"memo": cells("memo")})


@pytest.mark.django_db
@always
@given(st.lists(ROWS, min_size=1, max_size=3))
def test_rows_are_rejected_in_words_or_kept_and_go_out_as_they_are_kept(rows):
    team, _ = Team.objects.get_or_create(slug="kiln", defaults={"name": "Kiln", "country": "PT"})
    before = transaction.savepoint()
    report = bring(team, sheet(rows, [*COLUMNS, "memo"]))
    assert all(fault.mend.endswith(".") for bad in report.rejects for fault in bad.faults)
    kept = facts(team)
    back = bring(team, "".join(sheet_lines(team)).encode())
    assert (back.rejects, back.facts_new, back.leads_new, facts(team)) == ([], {}, 0, kept)
    transaction.savepoint_rollback(before)


@pytest.mark.parametrize(
    "content", [b"", b"\0", b"MZ\x90\0", A_PICTURE, "a".encode("utf-16"), b"a,b"]
)
def test_a_file_that_is_no_sheet_is_refused_in_words(content):
    with pytest.raises(Unreadable, match=r"\.$"):
        read(content)
