"""The team's logo: a whole picture, replaced only where it was seen, shown to members."""

import struct

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from pipeline.teams.logo import LARGEST, WIDEST
from pipeline.teams.models import Team
from tests.access.everything import A_PICTURE

URL = "/t/harbour/team/logo/"
HUGE = A_PICTURE[:16] + struct.pack(">II", WIDEST + 1, 1) + A_PICTURE[24:]


def sent(content: bytes, replaces: str = "") -> dict:
    return {"upload": SimpleUploadedFile("logo.png", content), "replaces": replaces}


def test_the_address_is_the_one_that_is_tried_here():
    assert reverse("team-logo", args=["harbour"]) == URL


def test_an_owner_keeps_a_logo_and_every_member_sees_it(cast, sign_in):
    assert sign_in(cast.owner).post(URL, sent(A_PICTURE)).status_code == 302
    answer = sign_in(cast.reader).get(URL)
    assert answer["Content-Type"] == "image/png"
    assert b"".join(answer.streaming_content) == A_PICTURE


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<svg/>",
        b"GIF89a",
        A_PICTURE[:20],
        A_PICTURE[:40],
        b"\xff\xd8\xff\xe0" + bytes(40),
        HUGE,
        A_PICTURE.ljust(LARGEST + 1),
    ],
)
def test_what_no_document_could_show_is_refused_at_the_field(cast, sign_in, content):
    answer = sign_in(cast.owner).post(URL, sent(content))
    assert answer.status_code == 422
    assert "upload" in answer.context["logo"].errors
    assert not Team.objects.get(pk=cast.team.pk).logo


def test_a_logo_that_somebody_else_put_there_is_not_replaced_unseen(
    cast, sign_in, django_capture_on_commit_callbacks
):
    browser = sign_in(cast.owner)
    browser.post(URL, sent(A_PICTURE))
    first = Team.objects.get(pk=cast.team.pk).logo.name
    answer = browser.post(URL, sent(A_PICTURE))
    assert answer.status_code == 422
    assert Team.objects.get(pk=cast.team.pk).logo.name == first
    seen = answer.context["logo"]["replaces"].value()
    with django_capture_on_commit_callbacks(execute=True):
        assert browser.post(URL, sent(A_PICTURE, replaces=seen)).status_code == 302
    logo = Team.objects.get(pk=cast.team.pk).logo
    assert logo.name != first
    assert not logo.storage.exists(first)


def test_a_logo_is_removed_once_seen_and_the_second_click_changes_nothing(
    cast, sign_in, django_capture_on_commit_callbacks
):
    browser = sign_in(cast.owner)
    browser.post(URL, sent(A_PICTURE))
    stored = Team.objects.get(pk=cast.team.pk).logo.name
    for _ in range(2):
        with django_capture_on_commit_callbacks(execute=True):
            assert browser.post(URL, {"remove": "yes", "replaces": stored}).status_code == 302
    assert not Team.objects.get(pk=cast.team.pk).logo
    assert browser.get(URL).status_code == 404


def test_a_logo_that_is_gone_from_the_disk_is_not_found_and_no_crash(cast, sign_in):
    browser = sign_in(cast.owner)
    browser.post(URL, sent(A_PICTURE))
    logo = Team.objects.get(pk=cast.team.pk).logo
    logo.storage.delete(logo.name)
    assert browser.get(URL).status_code == 404


@pytest.mark.parametrize(
    ("colour", "told"),
    [
        ("#zzzzzz", "six digits"),
        ("red", "six digits"),
        ("#ffff00", "darker"),
        ("#888888", "darker"),
    ],
)
def test_a_colour_in_which_words_can_not_be_read_is_refused(cast, colour, told):
    cast.team.colour = colour
    with pytest.raises(ValidationError, match=told):
        cast.team.full_clean()


@pytest.mark.parametrize("colour", ["#23594b", "#000000", "#767676", "#1A56B8"])
def test_a_colour_in_which_words_can_be_read_is_kept(cast, colour):
    # #767676 on white is 4.54 to 1, the lightest grey that passes: by the formula of WCAG 2.2.
    cast.team.colour = colour
    cast.team.full_clean()
