"""The review as a document: tagged, the same bytes for the same review, text never markup."""

from __future__ import annotations

import re
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from pipeline.results.charts.marks import Mark, side_by_side
from pipeline.results.charts.scale import share_label
from pipeline.results.exhibits.exhibit import Data, Exhibit, Row, Table
from pipeline.results.pdf import review_pdf
from pipeline.results.review.review import Line, Part, Review

HOSTILE = '#panic("x") *b* _i_ $x$ `r` = h @a <l> \\ // \'"[]{}'


def a_review(text: str = "5 sessions were held.", last: date = date(2026, 3, 31)) -> Review:
    parts = (
        Part("gave", "What we gave", (Line(text), Line("Two takeaways went out."))),
        Part("back", "What came back", (Line("Nobody has returned yet."),)),
    )
    return Review(date(2026, 1, 1), last, "By the facts of the day.", parts)


def an_exhibit(name: str = "hour", description: str = "A dot for each.") -> Exhibit:
    mark = Mark(name, "11 of 40", 0.28, 0.16, 0.43)
    return Exhibit(
        name="formats",
        title="Formats side by side",
        said=(f"{name}: 11 of 40 engaged.",),
        chart=side_by_side(
            "formats", "Formats", description, [mark], [0, 0.5, 1], share_label, dot="d", line="l"
        ),
        tables=(Table("Conversion", ("Format", "Engaged"), (Row((name, "11")),)),),
        data=Data(("format",), ((name,),)),
        rules=("The rule was fixed beforehand.",),
    )


def words(pdf: bytes) -> str:
    """What a reader sees, on one line."""
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split()
    )


def lines(pdf: bytes) -> list[str]:
    """What a reader sees, line by line."""
    return [
        line for page in PdfReader(BytesIO(pdf)).pages for line in page.extract_text().splitlines()
    ]


def claims_to_be_accessible(pdf: bytes) -> bool:
    return b"<pdfuaid:part>1</pdfuaid:part>" in pdf


def test_it_is_tagged_and_says_so():
    pdf = review_pdf(a_review(), [an_exhibit()], team="Harbour Studio")
    assert pdf.startswith(b"%PDF-")
    assert claims_to_be_accessible(pdf)
    assert b"/StructTreeRoot" in pdf


def test_the_same_review_gives_the_same_bytes():
    once, again = (review_pdf(a_review(), [an_exhibit()], team="Harbour") for _ in range(2))
    assert once == again
    assert once != review_pdf(a_review("6 sessions were held."), [an_exhibit()], team="Harbour")


def test_a_drawing_tells_in_words_what_it_shows():
    pdf = review_pdf(a_review(), [an_exhibit(description="Said aloud.")], team="Harbour")
    assert re.search(rb"/Alt ?\((Formats\. Said aloud\.)\)", pdf)


def test_it_says_everything():
    told = words(review_pdf(a_review(), [an_exhibit()], team="Harbour Studio"))
    for part in (
        "Harbour Studio: review of the three months to 31 March 2026",
        "5 sessions were held.",
        "hour: 11 of 40 engaged.",
        "The rule was fixed beforehand.",
    ):
        assert part in told


def test_what_people_wrote_is_text_and_never_markup():
    told = words(review_pdf(a_review(HOSTILE), [an_exhibit(HOSTILE)], team=HOSTILE))
    assert told.count(HOSTILE) >= 4


def test_what_no_typesetter_takes_is_left_out():
    pdf = review_pdf(a_review("a\x00b\x0bc\ud800d\u202ee"), [an_exhibit("a\x1bb")], team="H")
    assert claims_to_be_accessible(pdf)


@pytest.mark.parametrize(
    "name", ["größer", "Ελληνικά", "Кириллица", "עברית", "東京", "한국어", "🙂"]
)
def test_names_in_any_script_are_set(name):
    pdf = review_pdf(a_review(f"{name}: 5 of 9."), [an_exhibit(name)], team=f"Studio {name}")
    assert claims_to_be_accessible(pdf)
    assert words(pdf).count(name) >= 4


def test_a_name_without_end_stays_on_the_page():
    pdf = review_pdf(a_review("x" * 900), [an_exhibit("W" * 300)], team="Harbour")
    assert claims_to_be_accessible(pdf)
    assert max(map(len, lines(pdf))) < 200


def test_a_letter_that_no_font_has_takes_only_the_claim_away():
    pdf = review_pdf(a_review("\uaa00"), [an_exhibit("\uaa00")], team="Harbour")
    assert not claims_to_be_accessible(pdf)
    assert b"/StructTreeRoot" in pdf


@pytest.mark.parametrize("last", [date.min, date(1969, 12, 31), date.max])
def test_any_day_is_a_day(last):
    assert review_pdf(a_review(last=last), [], team="Harbour").startswith(b"%PDF-")
