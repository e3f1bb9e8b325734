"""How many queries the pages after the hour ask, whatever they list; each is named."""

import pytest

from sessions.models import Statement, Step
from sessions.takeaways.batches import ask
from sessions.takeaways.sending import send
from sessions.takeaways.setting import set_takeaway
from tests.conftest import NOW
from tests.sessions.pages import at

from .conftest import caught, note

DOOR = ["the login session", "the user", "the membership with its team"]
SESSION = ["the session with lead and format", "its crew", "its attendees"]
HARVEST = ["its notes", "its write-up", "the chart's steps", "its themes", "its statements"]

QUERIES = {
    "after-hour": [*SESSION, "what was noted"],
    "write-up": [*SESSION, *HARVEST, "the write-up to edit", "what is owed with owners"],
    "lane-chart": [*SESSION, "the chart's version", "its steps"],
    "takeaway": [*SESSION, *HARVEST, "what was sent", "how often it was opened"],
    "takeaway-pdf": [*SESSION, *HARVEST],
    "takeaway-send": [*SESSION, "what was sent before", "people to choose from"],
    "takeaways": ["batches with who asked"],
    "batch": ["the batch with who asked", "its items with their leads"],
}


@pytest.fixture
def busy(cast, heard):
    """Many notes and statements, sent twice."""
    step = Step.objects.filter(format=heard.format, catches="statements").last()
    theme = heard.themes.first()
    for number in range(12):
        note(heard, f"note {number}", number, theme=theme)
        Statement.objects.create(step=step, text=f"statement {number}", **caught(heard))
    for seen in range(2):
        send(
            session=heard,
            member=cast.member,
            now=NOW,
            to=["ida@fernwick.example"],
            subject="Your takeaway",
            words="Here it is.",
            document=set_takeaway(heard),
            seen=seen,
        )


@pytest.mark.parametrize("name", QUERIES)
def test_a_page_asks_only_these(cast, sign_in, heard, busy, name, django_assert_num_queries):
    batch = ask(team=cast.team, member=cast.member, now=NOW, month=NOW.date())
    rows = {"takeaways": [], "batch": [batch.pk]}.get(name, [heard.pk])
    browser = sign_in(cast.member)
    with django_assert_num_queries(len(DOOR) + len(QUERIES[name])):
        assert browser.get(at(cast.team, name, *rows)).status_code == 200
