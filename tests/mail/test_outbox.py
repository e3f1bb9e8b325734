"""A letter is a row, once for each cause."""

import re

import pytest

from pipeline.mail.models import Letter
from pipeline.mail.outbox import message_id
from tests.mail.letters import letter_to

pytestmark = pytest.mark.django_db


def test_of_one_cause_there_is_one_letter(cast):
    first = letter_to(cast.member)
    assert letter_to(cast.member, subject="Again") == first
    assert Letter.objects.get().subject == "To Mateus Coelho"


def test_the_same_cause_in_another_team_is_another_letter(cast):
    assert letter_to(cast.member) != letter_to(cast.other_owner)


def test_a_subject_is_one_line(cast):
    letter = letter_to(cast.member, subject="Due\r\nBcc: x@nowhere.example" + "x" * 300)
    assert letter.subject.startswith("Due Bcc: ")
    assert len(letter.subject) == 250


def test_the_message_id_is_the_same_at_every_attempt(cast, settings):
    settings.BASE_URL = "https://desk.example"
    letter = letter_to(cast.member)
    first = message_id(letter)
    assert re.fullmatch(r"<[0-9a-f-]{36}@desk\.example>", first)
    assert message_id(Letter.objects.get()) == first
    assert message_id(letter_to(cast.member, key="another")) != first
    assert message_id(letter_to(cast.other_owner)) != first
