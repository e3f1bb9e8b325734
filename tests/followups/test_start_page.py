"""The start page: what is late, due and ahead; whole, and in part for its buttons."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from sessions.models import CrewPlace
from tests.conftest import TODAY
from tests.factories import DeliverableFactory, FollowUpFactory, LeadFactory, SessionFactory
from tests.followups.queries import tables

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(cast):
    return reverse("start", args=[cast.team.slug])


def test_an_empty_page_says_what_to_do_next(cast, sign_in, url):
    page = sign_in(cast.member).get(url)
    assert "Nothing is waiting for you" in page.text
    assert reverse("lead-new", args=[cast.team.slug]) in page.text


def test_it_tells_in_words_since_when_something_is_late(cast, sign_in, url):
    lead = LeadFactory(team=cast.team, organisation="Tide & Co")
    FollowUpFactory(lead=lead, action="Write to them", due_on=date(2026, 2, 24))
    page = sign_in(cast.member).get(url).text
    assert "Since Tue 24 Feb 2026, 7 days ago" in page
    assert "Tide &amp; Co" in page


def test_it_shows_mine_until_everybodys_is_asked_for(cast, sign_in, url):
    lead = LeadFactory(team=cast.team)
    FollowUpFactory(lead=lead, action="Hers alone", owner=cast.owner)
    client = sign_in(cast.member)
    assert "Hers alone" not in client.get(url).text
    assert "Hers alone" in client.get(url, {"whose": "everybody"}).text


def test_one_view_serves_the_page_and_its_part(cast, sign_in, url):
    FollowUpFactory(lead=LeadFactory(team=cast.team), action="Write to them")
    client = sign_in(cast.member)
    whole, part = client.get(url).text, client.get(url, headers={"HX-Request": "true"}).text
    assert "<!doctype html>" in whole
    assert "<!doctype html>" not in part
    assert "Write to them" in whole
    assert "Write to them" in part


def test_a_session_shows_its_local_hour(cast, sign_in, url):
    at = datetime(2026, 7, 1, 14, 0, tzinfo=UTC)
    SessionFactory(lead=LeadFactory(team=cast.team), day=date(2026, 7, 1), starts_at=at)
    page = sign_in(cast.member).get(url)
    assert "1 more later" in page.text
    SessionFactory(
        lead=LeadFactory(team=cast.team), starts_at=datetime(2026, 3, 3, 14, 30, tzinfo=UTC)
    )
    assert "14:30" in sign_in(cast.member).get(url).text


def test_a_reader_sees_no_buttons(cast, sign_in, url):
    FollowUpFactory(lead=LeadFactory(team=cast.team))
    page = sign_in(cast.reader).get(url).text
    assert "Ask how the takeaway was received" in page
    assert "follow-ups/" in page
    assert "/done/" not in page


def test_its_queries_are_these_however_much_is_due(cast, sign_in, url):
    client = sign_in(cast.member)

    def fill(count):
        for n in range(count):
            lead = LeadFactory(team=cast.team)
            FollowUpFactory(lead=lead, owner=cast.member, due_on=TODAY - timedelta(days=n))
            DeliverableFactory(lead=lead, session=SessionFactory(lead=lead, state="held"))
            session = SessionFactory(lead=lead)
            CrewPlace.objects.create(
                team=cast.team, session=session, member=cast.member, part="support"
            )

    expected = [
        "django_session",
        "teams_user",
        "teams_member",
        "teams_absence",
        "followups_followup",  # counted
        "followups_followup",
        "discovery_deliverable",  # counted
        "discovery_deliverable",
        "discovery_discoverysession",  # counted
        "discovery_discoverysession",
        "discovery_crewplace",
    ]
    fill(1)
    assert tables(lambda: client.get(url)) == expected
    fill(5)
    assert tables(lambda: client.get(url)) == expected
