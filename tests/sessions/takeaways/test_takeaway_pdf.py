"""The takeaway as a PDF, judged by programs that are not ours: qpdf and the tools of poppler."""

from __future__ import annotations

import re
import shutil
import subprocess
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from sessions.models import DiscoverySession, Note, Theme
from sessions.takeaways.chart import StepDraft
from sessions.takeaways.setting import file_name, set_takeaway
from sessions.takeaways.writing import draw
from tests.access.everything import A_PICTURE
from tests.sessions.pages import at

from .conftest import caught

HOSTILE = '#import "x": * #read("/etc/passwd") $ x $ *b* _i_ @a <l> `r` \\ // = h ] [ } {'
SCRIPTS = (
    "Kunden rufen dreimal an",
    "Οι πελάτες περιμένουν",
    "Клиенты ждут ответа",
    "العملاء ينتظرون",
    "הלקוחות מחכים",
    "客户等了三天",
    "お客様は待ちます",
    "고객은 기다립니다",
)


def tool(name: str, *args: str) -> str:
    """Return what an installed program says; a missing one fails the test by its package."""
    package = {"qpdf": "qpdf"}.get(name, "poppler-utils")
    assert shutil.which(name), f"{name} is missing: apt-get install {package}"
    done = subprocess.run([name, *args], capture_output=True, check=False)
    said = done.stdout.decode(errors="replace")
    assert done.returncode == 0, said + done.stderr.decode(errors="replace")
    return said


@pytest.fixture
def written(tmp_path):
    """Return a function that sets a session's takeaway into a file and says where it is."""

    def write(session: DiscoverySession) -> str:
        path = tmp_path / "takeaway.pdf"
        path.write_bytes(set_takeaway(session).pdf)
        return str(path)

    return write


def text_of(path: str) -> str:
    """The text in reading order, on one line; places to break within long words are not seen."""
    return " ".join(tool("pdftotext", path, "-").replace("\u200b", "").split())


@pytest.fixture(params=["empty", "full", "wide", "dressed"])
def any_kind(request, cast, held) -> DiscoverySession:
    """A takeaway of each kind: nothing caught, everything, many lanes, with a logo."""
    if request.param == "empty":
        return held
    heard: DiscoverySession = request.getfixturevalue("heard")
    if request.param == "wide":
        steps = [StepDraft(f"Party {n % 8}", "Waits " * 40, "A" * 120) for n in range(60)]
        draw(session=heard, expected_version=2, steps=steps)
    if request.param == "dressed":
        cast.team.logo.save("logo.png", ContentFile(A_PICTURE))
        cast.team.colour = "#7a1f5c"
        cast.team.save()
    return heard


def test_every_kind_is_whole_tagged_titled_and_has_its_fonts_with_it(any_kind, written):
    path = written(any_kind)
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", path)
    info = tool("pdfinfo", path)
    assert "Takeaway for Fernwick Library" in info
    assert "Tagged:          yes" in info
    assert b"<pdfuaid:part>1</pdfuaid:part>" in Path(path).read_bytes()
    fonts = [line.split() for line in tool("pdffonts", path).splitlines()[2:]]
    assert fonts
    # name, type, encoding, embedded, …; counted from the end: object and generation
    assert {line[-5] for line in fonts} == {"yes"}


def test_the_logo_is_on_the_first_page_and_is_told_in_words(cast, heard, written):
    cast.team.logo.save("logo.png", ContentFile(A_PICTURE))
    path = written(DiscoverySession.objects.get(pk=heard.pk))
    (picture,) = tool("pdfimages", "-list", path).splitlines()[2:]
    assert picture.split()[:5] == ["1", "0", "image", "1", "1"]
    assert re.search(rb"/Alt ?\(Logo of Harbour Studio\)", Path(path).read_bytes())


def test_a_logo_that_is_gone_from_the_disk_leaves_the_name_in_its_place(cast, heard, written):
    cast.team.logo.save("logo.png", ContentFile(A_PICTURE))
    cast.team.logo.storage.delete(cast.team.logo.name)
    text = text_of(written(DiscoverySession.objects.get(pk=heard.pk)))
    assert text.startswith("Harbour Studio")


def test_the_structure_tree_says_what_is_heading_list_table_and_cell(heard, written):
    tree = tool("pdfinfo", "-struct", written(heard))
    for kind in ("H1", "H2", "L (block)", "LI", "Table", "TR", "TH", "TD"):
        assert kind in tree


def test_the_text_comes_out_in_reading_order(heard, written):
    text = text_of(written(heard))
    expected = [
        "Takeaway for Fernwick Library",
        "3 March 2026 · Discovery hour",
        "Run by Olive Brandt, Mateus Coelho",
        "The challenge",
        "How might each family get an answer the same day?",
        "The goal",
        "What we heard",
        "Answering takes days",
        "Families call three times before anybody answers.",
        "Two ledgers",
        "What counts most",
        "Our customers come to us because …",
        "We answer the same day",
        "They know us by name",
        "Price",
        "Opportunities",
        "How might we keep one ledger?",
        "How things go today",
        "Calls the office and asks for a place",
        "handed over: the question",
        "Writes the call on a slip",
        "Look here next",
        "Where to look next",
        "They disagree",
        "Next steps",
        "Speak again on 12 March",
        "Send both ledgers",
    ]
    places = []
    for said in expected:
        after = places[-1] if places else 0
        assert said in text[after:], said
        places.append(text.index(said, after))
    assert "Votes, 7 in all" in text


def test_bookmarks_name_the_parts_and_every_page_has_its_number(heard):
    reader = PdfReader(BytesIO(set_takeaway(heard).pdf))
    named = [mark.title for mark in reader.outline if not isinstance(mark, list)]
    assert named == [
        "The challenge",
        "The goal",
        "What we heard",
        "What counts most",
        "Opportunities",
        "How things go today",
        "Where to look next",
        "Next steps",
    ]
    for number, page in enumerate(reader.pages, start=1):
        assert f"{number} / {len(reader.pages)}" in page.extract_text()


def test_the_same_rows_give_the_same_bytes(heard):
    once = set_takeaway(heard).pdf
    assert once == set_takeaway(heard).pdf
    Note.objects.filter(text="The roof leaks.").update(text="The roof held.")
    assert once != set_takeaway(heard).pdf


def test_what_the_team_noted_for_itself_is_not_in_it(heard, written, cast, sign_in):
    sign_in(cast.member).post(
        at(cast.team, "after-hour", heard.pk),
        {"version": 1, "state": "held", "decides": "Secretly the aunt", "budget": "none"},
    )
    assert heard.after_hours.get().decides == "Secretly the aunt"
    assert "aunt" not in text_of(written(heard))


def test_four_hundred_notes_in_many_scripts_with_hostile_text_and_endless_words(held, written):
    themes = [
        Theme.objects.create(title=title, position=n, **caught(held))
        for n, title in enumerate(("Wörter", "עברית", "中文", HOSTILE[:100]))
    ]
    endless = ("W" * 5000, "ß" * 5000, "中" * 5000, "ع" * 5000)
    texts = [*SCRIPTS, HOSTILE, "a\x1b\u202eb\ufeffc", "two\nlines", "🙂 ❤\ufe0f"]
    Note.objects.bulk_create(
        Note(
            theme=themes[n % 4],
            text=endless[n] if n < 4 else f"{n:03} {texts[n % len(texts)]}",
            **caught(held),
        )
        for n in range(400)
    )
    document = set_takeaway(held)
    assert document.missing == ()
    path = written(held)
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", path)
    text = text_of(path)
    for n in range(4, 400):
        assert f"{n:03}" in text
    assert text.count(HOSTILE) >= 30
    assert "root:" not in text
    assert text.count("W") >= 5000
    for said in ("Οι πελάτες περιμένουν", "Клиенты ждут ответа", "客户等了三天"):
        assert said in text
    # nothing runs over the edge: every word's box lies between the sides of its page
    boxes = tool("pdftotext", "-bbox", path, "-")
    width = float(re.findall(r'<page width="([0-9.]+)"', boxes)[0])
    lefts, rights = (
        [float(at) for at in re.findall(rf'<word [^>]*{side}="(-?[0-9.]+)"', boxes)]
        for side in ("xMin", "xMax")
    )
    assert len(rights) > 1000
    assert min(lefts) > 0
    assert max(rights) < width


def test_characters_that_no_font_has_are_listed_on_the_page(cast, sign_in, heard):
    Note.objects.filter(text="The roof leaks.").update(text="The roof \U00013000 leaks.")
    page = sign_in(cast.reader).get(at(cast.team, "takeaway", heard.pk))
    assert page.context["missing"] == ["\U00013000 (U+13000, EGYPTIAN HIEROGLYPH A001)"]
    assert "EGYPTIAN HIEROGLYPH A001" in page.content.decode()


def test_it_is_handed_out_under_a_name_that_tells_what_it_is(cast, sign_in, heard):
    answer = sign_in(cast.reader).get(at(cast.team, "takeaway-pdf", heard.pk))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == (
        'inline; filename="Fernwick-Library-takeaway-2026-03-03.pdf"'
    )
    assert answer["Cache-Control"] == "private, no-store"
    assert answer.content == set_takeaway(heard).pdf


def test_a_name_for_a_file_has_nothing_that_a_disk_refuses(heard):
    heard.lead.organisation = 'A/B\\C: "D"\n*?<E>|'
    assert file_name(heard) == "A-B-C-D-E-takeaway-2026-03-03.pdf"
    heard.lead.organisation = "///"
    assert file_name(heard) == "lead-takeaway-2026-03-03.pdf"


def test_the_command_writes_the_same_file(heard, tmp_path):
    out = StringIO()
    call_command("takeaway", str(heard.pk), "--out", str(tmp_path / "a.pdf"), stdout=out)
    assert (tmp_path / "a.pdf").read_bytes() == set_takeaway(heard).pdf
    assert "a.pdf" in out.getvalue()


def test_the_command_names_what_could_not_be_set(heard, tmp_path):
    Note.objects.filter(text="The roof leaks.").update(text="\U00013000")
    errors = StringIO()
    call_command(
        "takeaway", str(heard.pk), "--out", str(tmp_path / "a"), stdout=StringIO(), stderr=errors
    )
    assert "U+13000" in errors.getvalue()


def test_the_command_tells_a_wrong_session_and_a_wrong_place(heard, tmp_path):
    with pytest.raises(CommandError, match="SESSION_ID: there is no session 987654321"):
        call_command("takeaway", "987654321", "--out", str(tmp_path / "a.pdf"))
    with pytest.raises(CommandError, match="--out"):
        call_command("takeaway", str(heard.pk), "--out", str(tmp_path / "none" / "a.pdf"))
