"""Hand in a sheet, see what would happen, take it in once; the rejects; the way out."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from pipeline.exchange.models import Sheet
from pipeline.exchange.reading import LARGEST, MOST_ROWS
from pipeline.leads.models import Lead, Source
from sessions.models import Deliverable
from tests.conftest import NOW
from tests.exchange.sheets import bring, sheet

CONTENT = (
    b"lead_ref,organisation,session_on,session_status,source,deliverable,memo\n"
    b"A,Kiln,2025-01-10,held,Fair,Takeaway,green <b>door</b>\n"
    b"B,Fold,2025-01-32,held,,,\n"
)
KEY = "6f0a7d0e-3f5c-4c7f-9f43-0d8f2ad3b5a1"


def url(name: str, *args: object) -> str:
    return reverse(name, args=["harbour", *args])


def hand_in(client, content: bytes = CONTENT, key: str = KEY, **more):
    file = SimpleUploadedFile("old leads.csv", content)
    return client.post(url("sheets"), {"submission": key, "file": file}, **more)


@pytest.fixture
def stored(cast) -> Sheet:
    return Sheet.objects.create(
        team=cast.team,
        name="old leads.csv",
        content=CONTENT,
        handed_in_at=NOW,
        handed_in_by=cast.member,
    )


def test_a_sheet_is_kept_and_shown_before_anything_of_it_is_stored(cast, sign_in):
    answer = hand_in(sign_in(cast.member), follow=True)
    page = answer.content.decode()
    assert answer.redirect_chain[-1][0] == url("sheet", Sheet.objects.get().pk)
    assert "1 new, 0 matched" in page
    assert "2025-01-32" in page
    assert "Write a day of the calendar" in page
    assert "memo" in page
    assert "Take it in" in page
    assert not Lead.objects.exists()
    assert not Source.objects.exists()


def test_the_same_post_twice_keeps_one_sheet(cast, sign_in):
    client = sign_in(cast.member)
    first, second = hand_in(client), hand_in(client)
    assert first.url == second.url
    assert Sheet.objects.count() == 1


def test_taking_in_twice_does_it_once_and_says_so(cast, sign_in, stored):
    client = sign_in(cast.member)
    first = client.post(url("sheet-take-in", stored.pk), follow=True).content.decode()
    second = client.post(url("sheet-take-in", stored.pk), follow=True).content.decode()
    assert "is taken in. Nothing was sent" in first
    assert "was already taken in" in second
    assert Lead.objects.count() == 1
    assert Lead.objects.get().sessions.get().recorded_by == cast.member
    # the page keeps telling what came of it, not what would happen now
    assert "1 new, 0 matched" in second
    assert "Take it in" not in second
    assert "unsent" in second


def test_a_sheet_that_says_nothing_new_tells_so(cast, sign_in, stored):
    bring(cast.team, CONTENT)
    page = sign_in(cast.member).get(url("sheet", stored.pk)).content.decode()
    assert "taking this sheet in would change nothing" in page


def test_the_rejects_come_as_a_file_before_and_after(cast, sign_in, stored):
    client = sign_in(cast.member)
    before = client.get(url("sheet-rejects", stored.pk))
    client.post(url("sheet-take-in", stored.pk))
    after = client.get(url("sheet-rejects", stored.pk))
    assert before.content == after.content
    assert before["Content-Disposition"] == 'attachment; filename="rejects.csv"'
    assert before.content.decode().splitlines()[1].startswith("B,Fold,2025-01-32,held,,,,3,")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "The file is empty"),
        (b"name\nKiln\n", "There is no column “organisation”"),
        (b"organisation\nK\xf6ln\n", "Line 2 is not UTF-8"),
        (b"x" * (LARGEST + 1), "at most 10 MB"),
        (b"organisation\n" + b"Kiln\n" * (MOST_ROWS + 1), "at most 20000 can be handed in here"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_at_the_field(cast, sign_in, content, says):
    answer = hand_in(sign_in(cast.member), content)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Sheet.objects.exists()


def test_a_post_without_a_file_is_told_so(cast, sign_in):
    answer = sign_in(cast.member).post(url("sheets"), {"submission": KEY})
    assert answer.status_code == 422
    assert "Choose the CSV file" in answer.content.decode()


def test_what_stands_in_a_sheet_is_shown_as_text(cast, sign_in):
    content = b"organisation,<script>x</script>,fee\nKiln,1,<img src=x>\n"
    page = hand_in(sign_in(cast.member), content, follow=True).content.decode()
    assert "<script>x" not in page
    assert "<img" not in page
    assert "&lt;img src=x&gt;" in page


def test_the_export_is_a_download_of_the_teams_leads(cast, sign_in):
    bring(cast.team, [{"organisation": "Kiln"}])
    bring(cast.other_team, [{"organisation": "Secret"}])
    answer = sign_in(cast.reader).get(url("export"))
    text = b"".join(answer.streaming_content).decode()
    assert "Kiln" in text
    assert "Secret" not in text
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="leads-harbour-2026-03-03.csv"' in answer["Content-Disposition"]


READ = ["sheets", "sheet", "sheet-rejects", "unsent", "export"]
WRITE = ["sheets", "sheet-take-in", "unsent"]


def address(name: str, stored: Sheet) -> str:
    return url(name, stored.pk) if name.startswith("sheet-") or name == "sheet" else url(name)


@pytest.mark.parametrize("name", READ)
def test_a_reader_reads_and_others_find_nothing(cast, sign_in, stored, name):
    where = address(name, stored)
    assert sign_in(cast.reader).get(where).status_code == 200
    for outsider in (cast.stranger, cast.other_owner):
        assert sign_in(outsider).get(where).status_code == 404


@pytest.mark.parametrize("name", WRITE)
def test_a_reader_who_writes_is_refused_and_others_find_nothing(cast, sign_in, stored, name):
    where = address(name, stored)
    assert sign_in(cast.reader).post(where).status_code == 403
    for outsider in (cast.stranger, cast.other_owner):
        assert sign_in(outsider).post(where).status_code == 404
    assert not Lead.objects.exists()


@pytest.mark.parametrize("name", ["sheet", "sheet-rejects", "sheet-take-in"])
def test_another_teams_sheet_is_not_found_at_ones_own_address(cast, sign_in, stored, name):
    where = reverse(name, args=["quarry", stored.pk])
    method = "post" if name == "sheet-take-in" else "get"
    assert getattr(sign_in(cast.other_owner), method)(where).status_code == 404


def test_taking_in_is_no_page_to_get(cast, sign_in, stored):
    assert sign_in(cast.member).get(url("sheet-take-in", stored.pk)).status_code == 405


def queries(client, where: str) -> list[str]:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(where).status_code == 200
    return [query["sql"] for query in captured]


def test_the_queries_of_a_preview_do_not_grow_with_the_rows(cast, sign_in, stored):
    client = sign_in(cast.member)
    row = {"source": "Fair", "format": "Hour", "session_on": "2025-01-10", "deliverable": "T"}

    def look(count: int) -> int:
        rows = [{"organisation": f"O{n}", "lead_ref": f"R{n}"} | row for n in range(count)]
        # half of the leads are known already
        bring(cast.team, sheet(rows[: count // 2], rows[0]))
        rows += [{"organisation": f"P{n}"} | row for n in range(count)]
        Sheet.objects.filter(pk=stored.pk).update(content=sheet(rows, rows[0]))
        return len(queries(client, url("sheet", stored.pk)))

    # sign-in and user, door, sheet; leads by reference and by fingerprint; formats, sources,
    # promises; of the known leads: themselves, people, sessions, deliverables, decisions, fundings
    assert look(4) == look(200) == 15


def test_the_queries_of_the_other_pages_do_not_grow(cast, sign_in, stored):
    client = sign_in(cast.member)
    names = ("sheets", "unsent")
    rows = [
        {"organisation": f"O{n}", "session_on": "2025-01-10", "deliverable": "T"}
        for n in range(40)
    ]
    bring(cast.team, sheet(rows[:2], rows[0]))
    few = [len(queries(client, url(name))) for name in names]
    bring(cast.team, sheet(rows, rows[0]))
    assert Deliverable.objects.count() == 40
    Sheet.objects.bulk_create(
        Sheet(team=cast.team, name=f"{n}.csv", content=b"organisation\n", handed_in_at=NOW)
        for n in range(9)
    )
    assert [len(queries(client, url(name))) for name in names] == few
    # sheets: sign-in and user, door; what a sheet can't hold, in eight queries;
    # the list; old deliverables. unsent: sign-in and user, door; the list; its highest key
    assert few == [13, 5]


def test_the_list_of_sheets_leaves_their_content_alone(cast, sign_in, stored):
    listing = [
        sql for sql in queries(sign_in(cast.member), url("sheets")) if "exchange_sheet" in sql
    ]
    assert len(listing) == 1
    assert "content" not in listing[0]
