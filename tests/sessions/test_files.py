"""Files of deliverables: known by content, kept apart by name, handed out as attachments."""

import io
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from sessions import files
from sessions.models import Deliverable

from .pages import at, said

PDF = b"%PDF-1.7\n1 0 obj\nendobj\n"
PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)
JPEG = b"\xff\xd8\xff\xe0" + bytes(20)
OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(20)


def zipped() -> bytes:
    """Return a real ZIP archive."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        archive.writestr("a.txt", "a")
    return whole.getvalue()


@pytest.fixture
def page(cast, takeaway):
    return at(cast.team, "deliverable-file", takeaway.pk)


def sent(name: str, content: bytes, replaces: str = "") -> dict:
    return {"upload": SimpleUploadedFile(name, content), "replaces": replaces}


def body(answer) -> bytes:
    return b"".join(answer.streaming_content)


@pytest.mark.parametrize(
    ("name", "content", "shown", "content_type"),
    [
        ("takeaway.pdf", PDF, "takeaway.pdf", "application/pdf"),
        ("chart.png", PNG, "chart.png", "image/png"),
        ("wall.JPEG", JPEG, "wall.JPEG", "image/jpeg"),
        ("all.docx", zipped(), "all.docx", "application/octet-stream"),
        ("old.xls", OLD_OFFICE, "old.xls", "application/octet-stream"),
        ("page.html", PDF, "page.html.pdf", "application/pdf"),
        ("../../etc/passwd", PDF, "passwd.pdf", "application/pdf"),
        ("naïve plan.pdf", PDF, "naïve plan.pdf", "application/pdf"),
    ],
)
def test_a_file_comes_back_as_it_went_in(
    cast, sign_in, takeaway, page, name, content, shown, content_type
):
    browser = sign_in(cast.member)
    assert browser.post(page, sent(name, content)).status_code == 302
    takeaway.refresh_from_db()
    assert takeaway.file_name == shown
    assert takeaway.file.name.startswith(f"team-{cast.team.pk}/deliverable-{takeaway.pk}")

    answer = sign_in(cast.reader).get(page)
    assert body(answer) == content
    assert answer["Content-Type"] == content_type
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    "content", [b"<script>alert(1)</script>", b"MZ\x90\x00", b"%PD", b"PK", b"a,b\n1,2\n", b""]
)
def test_what_is_no_known_kind_by_its_content_is_refused(cast, sign_in, takeaway, page, content):
    answer = sign_in(cast.member).post(page, sent("takeaway.pdf", content))
    assert answer.status_code == 422
    assert "upload" in answer.context["upload"].errors
    takeaway.refresh_from_db()
    assert not takeaway.file


def test_no_file_at_all_is_told_at_the_field(cast, sign_in, page):
    answer = sign_in(cast.member).post(page, {"replaces": ""})
    assert (answer.status_code, list(answer.context["upload"].errors)) == (422, ["upload"])


def test_a_file_may_be_as_large_as_the_limit_and_not_a_byte_more(
    cast, sign_in, takeaway, page, monkeypatch
):
    monkeypatch.setattr(files, "LARGEST", 100)
    browser = sign_in(cast.member)
    answer = browser.post(page, sent("a.pdf", PDF.ljust(101)))
    assert answer.status_code == 422
    assert "20 MB" in answer.content.decode()
    assert browser.post(page, sent("a.pdf", PDF.ljust(100))).status_code == 302
    assert files.LARGEST == 100


def test_the_limit_is_20_mb():
    assert files.LARGEST == 20 * 1024 * 1024


def test_another_file_takes_the_place_of_the_one_that_was_seen(
    cast, sign_in, takeaway, page, django_capture_on_commit_callbacks
):
    browser = sign_in(cast.member)
    browser.post(page, sent("a.pdf", PDF))
    takeaway.refresh_from_db()
    first = takeaway.file.name
    with django_capture_on_commit_callbacks(execute=True):
        browser.post(page, sent("b.png", PNG, replaces=first))
    takeaway.refresh_from_db()
    assert takeaway.file_name == "b.png"
    assert not takeaway.file.storage.exists(first)
    assert body(browser.get(page)) == PNG


def test_a_file_that_somebody_else_uploaded_meanwhile_is_not_replaced_unseen(
    cast, sign_in, takeaway, page
):
    sign_in(cast.owner).post(page, sent("hers.pdf", PDF))
    browser = sign_in(cast.member)
    answer = browser.post(page, sent("mine.png", PNG))
    assert answer.status_code == 422
    assert "hers.pdf" in answer.content.decode()
    takeaway.refresh_from_db()
    assert (takeaway.file_name, body(browser.get(page))) == ("hers.pdf", PDF)
    folder = takeaway.file.storage.listdir(f"team-{cast.team.pk}")
    assert len(folder[1]) == 1
    # the page that told it knows the file that is there now
    seen = answer.context["upload"]["replaces"].value()
    assert browser.post(page, sent("mine.png", PNG, replaces=seen)).status_code == 302


def test_a_file_is_removed_once_seen(
    cast, sign_in, takeaway, page, django_capture_on_commit_callbacks
):
    browser = sign_in(cast.member)
    browser.post(page, sent("a.pdf", PDF))
    takeaway.refresh_from_db()
    stored = takeaway.file.name
    unseen = browser.post(page, {"remove": "yes", "replaces": ""}, follow=True)
    assert "meanwhile" in said(unseen)[-1]
    assert Deliverable.objects.get().file
    with django_capture_on_commit_callbacks(execute=True):
        browser.post(page, {"remove": "yes", "replaces": stored})
    assert not Deliverable.objects.get().file
    assert not takeaway.file.storage.exists(stored)
    assert browser.get(page).status_code == 404


def test_a_file_that_is_gone_from_the_disk_is_a_404_and_no_crash(cast, sign_in, takeaway, page):
    browser = sign_in(cast.member)
    browser.post(page, sent("a.pdf", PDF))
    takeaway.refresh_from_db()
    takeaway.file.storage.delete(takeaway.file.name)
    assert browser.get(page).status_code == 404


def test_a_name_is_one_line_without_control_characters():
    kind = files.kind_of(PDF)
    assert kind is not None
    assert files.safe_name("a\r\nSet-Cookie: b\u202e.pdf", kind) == "aSet-Cookie: b.pdf"
    assert files.safe_name("", kind) == "file.pdf"
    assert len(files.safe_name("x" * 500, kind)) <= 200
