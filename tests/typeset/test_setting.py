"""Any document: text never markup, the same bytes, and a list of what no font has."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from pipeline.typeset import setting
from pipeline.typeset.setting import CannotBeSet, can_be_set, missing_in, set_document
from tests.access.everything import A_PICTURE

DAY = date(2026, 3, 3)
HOSTILE = '#panic("x") #read("/etc/passwd") *b* _i_ $x$ `r` @a <l> \\ // \'"[]{}'
# One line in each script that a font was installed for.
SCRIPTS = (
    "Latin: größer, façade",
    "Ελληνικά",
    "Кириллица",
    "العربية",
    "עברית",
    "中文",
    "日本語のかな",
    "한국어",
    "🙂 👩\u200d👧 ❤\ufe0f",
)


@pytest.fixture
def template(tmp_path, monkeypatch):
    """A template that sets one paragraph a line."""
    (tmp_path / "typeset").mkdir()
    words = (setting.ROOT / "typeset" / "words.typ").read_text()
    (tmp_path / "typeset" / "words.typ").write_text(words)
    (tmp_path / "plain.typ").write_text(
        '#import "/typeset/words.typ": families, written\n'
        "#let it = json(bytes(sys.inputs.content))\n"
        '#set document(title: "Plain", date: none)\n'
        "#set text(font: families)\n"
        "#for line in it.lines { written(line) }\n"
    )
    monkeypatch.setattr(setting, "ROOT", tmp_path)
    return "plain.typ"


def read(pdf: bytes) -> str:
    """What a reader sees; places to break within long words are not seen."""
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    return text.replace("\u200b", "")


def test_every_script_is_set_and_the_document_claims_to_be_accessible(template):
    document = set_document(template, {"lines": SCRIPTS}, day=DAY)
    assert document.missing == ()
    assert document.accessible
    assert b"<pdfuaid:part>1</pdfuaid:part>" in document.pdf


def test_what_people_wrote_is_text_and_never_markup(template):
    text = read(set_document(template, {"lines": [HOSTILE]}, day=DAY).pdf)
    assert HOSTILE in " ".join(text.split())


def test_the_same_content_gives_the_same_bytes_and_another_day_other_ones(template):
    once, again = (set_document(template, {"lines": ["a"]}, day=DAY).pdf for _ in range(2))
    assert once == again
    assert once != set_document(template, {"lines": ["b"]}, day=DAY).pdf


def test_characters_that_no_font_has_are_named_and_take_only_the_claim_away(template):
    document = set_document(template, {"lines": ["a \uaa00 b \U00013000", "\uaa00"]}, day=DAY)
    assert document.missing == ("\uaa00", "\U00013000")
    assert not document.accessible
    assert b"pdfuaid" not in document.pdf
    assert b"/StructTreeRoot" in document.pdf


def test_what_the_typesetter_says_of_a_character_is_read_in_both_its_spellings():
    said = (
        'error: PDF/UA-1 error: the text `"𓀀"` could not be displayed with font `"A"`\n'
        'error: PDF/UA-1 error: the text `"\\u{a980}x"` could not be displayed with font `"A"`\n'
    )
    assert missing_in(said) == ("x", "\ua980", "𓀀")
    assert missing_in("error: unknown variable: x") == ()


def test_a_document_that_is_refused_as_a_whole_says_why(template, tmp_path):
    (tmp_path / "wrong.typ").write_text("#nothing-of-this-name")
    with pytest.raises(CannotBeSet, match="nothing-of-this-name"):
        set_document("wrong.typ", {}, day=DAY)


def test_a_word_without_end_is_broken_and_stays_on_the_page(template):
    pdf = set_document(template, {"lines": ["W" * 5000, "ع" * 5000, "x" * 19]}, day=DAY).pdf
    lines = [line for line in read(pdf).splitlines() if "W" in line]
    assert len(lines) > 50
    assert sum(line.count("W") for line in lines) == 5000


@pytest.mark.parametrize("day", [date.min, date(1969, 12, 31), date.max])
def test_any_day_is_a_day(template, day):
    assert set_document(template, {"lines": []}, day=day).pdf.startswith(b"%PDF-")


def test_a_whole_picture_can_be_set_and_half_of_one_can_not():
    assert can_be_set(A_PICTURE)
    assert not can_be_set(A_PICTURE[:40])
    assert not can_be_set(b"")
