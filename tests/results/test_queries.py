"""What each page of results asks of the database, whatever the number of leads; each is named."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sessions.models import CrewPlace
from tests.conftest import TODAY
from tests.factories import FormatFactory, SourceFactory

from .rows import INDEX, add_lead

DOOR = ["the login session", "the user", "the membership with its team"]
CHOICES = ["formats to choose from", "members to choose from", "sources to choose from"]

EFFORT = ["minutes and fees by index day", "rates the team entered", "hours a day of late"]
PROMISES = ["what was promised, by day", "sessions by state", "what followed sending, by day"]
GROUPS = ["formats by day", "sources by day", "numbers of people by day"]
WAITING = ["waits by how long", "the waiting leads listed", "who looks after them"]
FORECAST = ["waits by how long", "expected fees by how long"]

QUERIES = {
    "": [*DOOR, *CHOICES, "all leads by day"],
    "formats/": [*DOOR, *CHOICES, *GROUPS],
    "return/": [
        *DOOR,
        *CHOICES,
        "waits by day",
        "a page of returns",
        "waits by day since funding",
        "engagements and fees by currency",
    ],
    "waiting/": [*DOOR, *CHOICES, *WAITING],
    "work/": [*DOOR, *CHOICES, *EFFORT, *PROMISES],
    # A quarter that is over takes two more; here none is.
    "forecast/": [*DOOR, *CHOICES, *FORECAST, "when the first began to wait"],
    "crew/": [*DOOR, *CHOICES, "facilitators by day", "their names"],
    "review/": [
        *DOOR,
        *GROUPS,
        "waits by day",
        "sessions of the three months",
        "deliverables of the three months",
        "engagements of the three months",
        "waits by day since funding",
        "engagements and fees by currency",
        *EFFORT,
        *PROMISES,
        *WAITING,
        *FORECAST,
    ],
}


@pytest.mark.parametrize("path", QUERIES)
def test_a_page_asks_only_these(cast, sign_in, path):
    client = sign_in(cast.owner)

    def asked() -> list[str]:
        with CaptureQueriesContext(connection) as caught:
            assert client.get(f"/t/harbour/results/{path}").status_code == 200
        return [query["sql"] for query in caught]

    def add(number: int) -> None:
        for place in range(number):
            lead = add_lead(
                cast.team,
                ("no budget yet", TODAY - timedelta(days=place)),
                held=INDEX,
                owner=cast.member,
                format=FormatFactory(team=cast.team),
                source=SourceFactory(team=cast.team),
            )
            CrewPlace.objects.create(
                team=cast.team,
                session=lead.sessions.get(),
                member=cast.member,
                part="facilitator",
            )

    add(1)
    one = asked()
    add(5)
    several = asked()
    assert len(one) == len(several) == len(QUERIES[path]), "\n\n".join(several)
    assert all(sql.startswith(("SELECT", "WITH")) for sql in several)
