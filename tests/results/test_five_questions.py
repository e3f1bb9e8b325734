"""The answers in docs/statistics.md are those of the demo's review page; two are “can't tell”."""

import re
from pathlib import Path

import pytest
from django.core.management import call_command

from pipeline.exchange.welcome import DEMO_ADDRESS
from pipeline.teams.models import User

from .pages import text_of

DOCS = Path(__file__).parents[2] / "docs" / "statistics.md"


def answers() -> list[str]:
    """The quoted lines: what stands on the page."""
    questions = DOCS.read_text().split("## Five questions")[1]
    return re.findall(r"^ +> (.+)$", questions, re.M)


def test_there_are_five_answers_and_two_are_cannot_tell():
    found = answers()
    assert len(found) == 5
    assert len([answer for answer in found if "can't tell yet" in answer]) == 2


@pytest.mark.django_db
def test_each_answer_is_read_off_the_review_page(client):
    call_command("demo", verbosity=0)
    client.force_login(User.objects.get(email=DEMO_ADDRESS))
    told = text_of(client.get("/t/lanternfish/results/review/"))
    for answer in answers():
        assert answer in told
