"""How many queries each page asks, whatever it lists; each is named."""

from datetime import timedelta

import pytest

from pipeline.teams.models import Member, User
from sessions.booking import book
from sessions.holding import hold
from sessions.models import Part
from tests.conftest import NOW
from tests.factories import ContactFactory, DeliverableFactory, LeadFactory, OfferFactory

from .pages import at

DOOR = ["the login session", "the user", "the membership with its team"]

QUERIES = {
    "sessions": [
        "the week's free minutes",
        "sessions that are booked or today's",
        "their crews",
        "times that are held",
        "the times",
        "and for whom",
        "a page of the others",
        "their crews",
    ],
    "session": [
        "the session with lead, format and who marked it",
        "its crew",
        "its attendees",
        "the format's steps",
        "what those invited were told",
        "its deliverables with owners",
    ],
    "session-book": [
        "the lead",
        "whether it has contacts",
        "formats to choose from",
        "members to facilitate",
        "members to take notes",
        "members in support",
        "contacts to take part",
    ],
    "formats": ["formats with their uses", "their steps", "their promises"],
    "format": [
        "the format with its uses",
        "its steps",
        "its promises",
        "the real minutes of its steps",
    ],
    "format-edit": ["the format", "its steps", "its promises", "its uses", "its versions"],
    "format-compare": [
        "the format",
        "its steps",
        "its promises",
        "its versions",
        "their steps",
        "their promises",
    ],
    "deliverables": ["what is owed", "a page of what is closed"],
    "deliverable": [
        "the deliverable with lead, session and owner",
        "members to own it",
    ],
}


@pytest.fixture
def busy(cast, lead, hour):
    """A team with a dozen sessions of two members and their takeaways, half of them sent."""
    user = User.objects.create_user("third@harbour.example", name="Third Hand")
    third = Member.objects.create(team=cast.team, user=user)
    for n in range(12):
        other = LeadFactory(team=cast.team)
        session = book(
            lead=other,
            member=cast.owner,
            now=NOW,
            format=hour,
            starts_at=NOW - timedelta(days=n, hours=1),
            minutes=60,
            crew={Part.FACILITATOR: [cast.owner], Part.SUPPORT: [cast.member, third]},
            attendees=[ContactFactory(lead=other), ContactFactory(lead=other)],
        )
        if n % 2:
            hold(session=session, member=cast.owner, now=NOW)
        DeliverableFactory(
            lead=other, session=session, owner=third, sent_on=NOW.date() if n % 3 else None
        )
    for _ in range(2):
        held = OfferFactory(lead=LeadFactory(team=cast.team))
        held.crew.create(team=cast.team, member=third, part=Part.FACILITATOR)


@pytest.mark.parametrize("name", QUERIES)
def test_a_page_asks_only_these(cast, sign_in, takeaway, busy, name, django_assert_num_queries):
    keys = {
        "session": takeaway.session_id,
        "session-book": takeaway.lead_id,
        **dict.fromkeys(("format", "format-edit", "format-compare"), takeaway.session.format_id),
        "deliverable": takeaway.pk,
    }
    page = at(cast.team, name, *([keys[name]] if name in keys else []))
    browser = sign_in(cast.member)
    with django_assert_num_queries(len(DOOR) + len(QUERIES[name])):
        assert browser.get(page).status_code == 200
