"""A form posted again as it was is the same wish; one that was changed in between is another."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from pipeline.exchange.models import Sheet
from pipeline.leads.models import LogEntry
from tests.factories import LeadFactory

KEY = "9b1deb4d-3b7d-4bad-9bdd-2b0d7b3dcb6d"
TYPED = {"submission": KEY, "day": "2026-03-03", "channel": "call", "gist": "No answer."}


@pytest.fixture
def post(cast, sign_in):
    browser = sign_in(cast.member)
    url = reverse("log-new", args=["harbour", LeadFactory(team=cast.team).pk])
    return lambda **more: browser.post(url, {**TYPED, **more}, follow=True).content.decode()


def gists():
    return list(LogEntry.objects.order_by("pk").values_list("gist", flat=True))


def test_the_same_form_again_changes_nothing_and_says_so(post):
    assert "The conversation is recorded." in post()
    assert "Already done, once." in post()
    assert gists() == ["No answer."]


def test_a_new_rendering_of_the_page_does_not_make_it_another_form(post):
    post(csrfmiddlewaretoken="one")
    assert "Already done, once." in post(csrfmiddlewaretoken="two")
    assert gists() == ["No answer."]


def test_what_was_changed_before_posting_again_is_not_lost(post):
    post()
    assert "Already done" not in post(gist="She called back.")
    assert gists() == ["No answer.", "She called back."]
    assert "Already done, once." in post(gist="She called back.")
    assert len(gists()) == 2


def test_the_same_words_in_a_new_form_are_a_second_wish(post):
    post()
    assert "Already done" not in post(submission=KEY.replace("9", "8"))
    assert gists() == ["No answer.", "No answer."]


def test_another_file_in_the_same_form_is_not_lost(cast, sign_in):
    browser = sign_in(cast.member)
    for content in (b"organisation\nAlder\n", b"organisation\nBirch\n", b"organisation\nBirch\n"):
        file = SimpleUploadedFile("leads.csv", content)
        browser.post(reverse("sheets", args=["harbour"]), {"submission": KEY, "file": file})
    kept = [bytes(s.content)[13:] for s in Sheet.objects.order_by("pk")]
    assert kept == [b"Alder\n", b"Birch\n"]
