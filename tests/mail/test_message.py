"""A letter as a message: what a mail server would be given, calendar file and all."""

from __future__ import annotations

from email import message_from_bytes
from email.policy import default

import pytest
from django.urls import reverse

from pipeline.mail.message import calendar_method, message_of
from pipeline.mail.stopping import stop_link
from tests.conftest import NOW
from tests.mail.letters import letter_to

pytestmark = pytest.mark.django_db

FILE = "\r\n".join(
    [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "METHOD:REQUEST",
        "BEGIN:VEVENT",
        "SUMMARY:Kräfte, “sammeln”",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]
)


def read(letter):
    """Return a letter's message as read back from its bytes."""
    return message_from_bytes(message_of(letter).as_bytes(), policy=default)


def test_the_calendar_file_is_an_alternative_that_names_its_method_and_charset(cast):
    """As in RFC 6047, section 2.4."""
    found = read(letter_to(cast.member, calendar=FILE))
    assert found.get_content_type() == "multipart/alternative"
    parts = list(found.iter_parts())
    assert [part.get_content_type() for part in parts] == [
        "text/plain",
        "text/html",
        "text/calendar",
    ]
    header = parts[2]["Content-Type"]
    assert header.params["method"] == "REQUEST"
    assert header.params["charset"].lower() == "utf-8"
    assert parts[2].get_content().replace("\r\n", "\n") == FILE.replace("\r\n", "\n")


def test_a_letter_of_words_alone_is_one_part(cast):
    found = read(letter_to(cast.member, html=""))
    assert found.get_content_type() == "text/plain"
    assert found.get_content().strip() == "In plain words."


def test_the_answer_goes_to_whoever_had_it_sent(cast):
    found = read(letter_to(cast.member, by=cast.owner))
    sender = found["From"].addresses[0]
    assert sender.display_name == "Olive Brandt, Harbour Studio"
    assert sender.username == "letters"
    assert str(found["Reply-To"]) == "Olive Brandt <olive@harbour.example>"
    assert found["To"] == "mateus@harbour.example"
    assert "Reply-To" not in read(letter_to(cast.member, key="other"))


def test_the_same_letter_gives_the_same_message(cast):
    letter = letter_to(cast.member, calendar=FILE)
    assert message_of(letter).as_bytes() == message_of(letter).as_bytes()


def test_a_name_with_a_line_break_starts_no_header(cast):
    cast.owner.user.name = "Olive\r\nBcc: everybody@spy.example"
    found = read(letter_to(cast.member, by=cast.owner))
    assert found["Bcc"] is None


@pytest.mark.parametrize(
    ("file", "method"),
    [(FILE, "REQUEST"), (FILE.replace("\r\n", "\n"), "REQUEST"), ("SUMMARY:METHOD:PUBLISH", "")],
)
def test_the_method_is_read_from_its_own_line(cast, file, method):
    assert calendar_method(letter_to(cast.member, calendar=file)) == method


def test_the_file_and_the_message_are_handed_out(cast, sign_in):
    letter = letter_to(cast.member, calendar=FILE)
    browser = sign_in(cast.member)
    page = browser.get(reverse("letter", args=["harbour", letter.pk])).text
    assert "whoever gets it is asked to accept or to decline" in page
    file = browser.get(reverse("letter-calendar", args=["harbour", letter.pk]))
    assert file.content.decode() == FILE
    assert file["Content-Type"] == "text/calendar; method=REQUEST; charset=utf-8"
    whole = browser.get(reverse("letter-message", args=["harbour", letter.pk]))
    assert whole["Content-Type"] == "message/rfc822"
    assert b"text/calendar" in whole.content


def test_a_letter_without_a_file_has_none_to_hand_out(cast, sign_in):
    letter = letter_to(cast.member)
    browser = sign_in(cast.member)
    assert "calendar file" not in browser.get(reverse("letter", args=["harbour", letter.pk])).text
    gone = browser.get(reverse("letter-calendar", args=["harbour", letter.pk]))
    assert gone.status_code == 404


def test_a_member_reads_the_letters_that_went_out_for_them_and_no_other(cast, sign_in):
    to_a_lead = letter_to(cast.owner, key="lead", by=cast.member, due_at=NOW)
    other = letter_to(cast.owner, key="other")
    browser = sign_in(cast.member)
    assert browser.get(reverse("letter", args=["harbour", to_a_lead.pk])).status_code == 200
    assert browser.get(reverse("letter", args=["harbour", other.pk])).status_code == 404


def test_a_letter_of_a_list_says_how_to_leave_it(cast, settings):
    """By RFC 2369, 3.2, and RFC 8058, 3.1: one HTTPS address, whole, and the form's one field."""
    settings.BASE_URL = f"https://{'a-very-long-name.' * 8}desk.example"
    letter = letter_to(cast.member, stops="digest")
    lines = message_of(letter).as_bytes().decode().split("\r\n")
    assert f"List-Unsubscribe: <{stop_link(letter)}>" in lines
    assert stop_link(letter).startswith("https://")
    assert "List-Unsubscribe-Post: List-Unsubscribe=One-Click" in lines
    # RFC 5322, 2.1.1
    assert max(map(len, lines)) <= 998
    assert read(letter)["List-Unsubscribe"] == f"<{stop_link(letter)}>"


def test_a_letter_of_no_list_names_none(cast):
    found = read(letter_to(cast.member))
    assert found["List-Unsubscribe"] is None
    assert found["List-Unsubscribe-Post"] is None
