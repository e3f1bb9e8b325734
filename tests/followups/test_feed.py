"""A member's feed: what stands in it, who reads it, and what it costs to ask again."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from pipeline.clock import moment
from pipeline.followups.feed import change_feed
from pipeline.followups.models import Feed, FollowUp
from pipeline.teams.membership import remove
from sessions.calendars.offering import free
from sessions.models import Part
from tests.access.test_get_never_writes import writes
from tests.conftest import NOW, TODAY
from tests.factories import (
    DeliverableFactory,
    FollowUpFactory,
    LeadFactory,
    OfferFactory,
    SessionFactory,
)
from tests.followups.queries import tables
from tests.sessions.calendars.reading import Read, read_all

TEN = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)


def at(name: str) -> str:
    return reverse(name, args=["harbour"])


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Fernwick Library")


@pytest.fixture
def session(cast, lead):
    """Tomorrow at ten, with Mateus."""
    found = SessionFactory(
        lead=lead, day=date(2026, 3, 4), starts_at=TEN, place="https://meet.example/1"
    )
    found.crew.create(team=cast.team, member=cast.member, part=Part.FACILITATOR)
    return found


@pytest.fixture
def url(cast):
    return reverse("feed-file", args=[change_feed(member=cast.member, now=NOW).token])


def entries(url: str) -> dict[str, Read]:
    """Return what another program reads at the address, by its words."""
    answer = Client().get(url)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    return {entry.summary: entry for entry in read_all(answer.content.decode())}


def test_it_holds_sessions_deliverables_and_follow_ups(cast, lead, session, url):
    DeliverableFactory(lead=lead, title="Takeaway", owner=cast.member, due_on=date(2026, 3, 9))
    FollowUpFactory(lead=lead, action="Ask for dates", owner=cast.member, due_on=TODAY)
    found = entries(url)
    assert set(found) == {
        f"{session.format.name}: Fernwick Library",
        "Send: Takeaway, Fernwick Library",
        "Ask for dates, Fernwick Library",
    }
    hour = found[f"{session.format.name}: Fernwick Library"]
    assert (hour.starts, hour.ends) == (TEN, TEN + timedelta(hours=1))
    assert "Join: https://meet.example/1" in hour.description
    due = found["Send: Takeaway, Fernwick Library"]
    assert (due.starts, due.ends) == (date(2026, 3, 9), date(2026, 3, 10))
    assert due.raw.transp.value == "TRANSPARENT"


def test_it_is_ones_own_and_nobodys_and_no_other_members(cast, lead, url):
    theirs = SessionFactory(lead=lead, day=TODAY, starts_at=NOW)
    theirs.crew.create(team=cast.team, member=cast.owner, part=Part.FACILITATOR)
    FollowUpFactory(lead=lead, action="Olive's", owner=cast.owner)
    FollowUpFactory(lead=lead, action="Unowned", owner=None)
    elsewhere = LeadFactory(team=cast.other_team)
    FollowUpFactory(lead=elsewhere, action="Another team's", owner=None)
    assert set(entries(url)) == {"Unowned, Fernwick Library (nobody’s)"}


def test_what_is_done_sent_missed_or_cancelled_is_not_in_it(cast, lead, url):
    for state in ("missed", "cancelled"):
        row = SessionFactory(lead=lead, day=TODAY, state=state)
        row.crew.create(team=cast.team, member=cast.member, part=Part.FACILITATOR)
    DeliverableFactory(lead=lead, owner=cast.member, sent_on=TODAY)
    FollowUpFactory(lead=lead, owner=cast.member, state="done")
    gone = LeadFactory(team=cast.team, merged_into=lead)
    FollowUpFactory(lead=gone, owner=cast.member)
    assert entries(url) == {}


def test_times_that_are_held_are_tentative_until_they_are_free(cast, lead, url):
    offer = OfferFactory(lead=lead, starts=[TEN])
    offer.crew.create(team=cast.team, member=cast.member, part=Part.FACILITATOR)
    OfferFactory(lead=LeadFactory(team=cast.team), starts=[TEN])
    (found,) = entries(url).values()
    assert (found.starts, found.status) == (TEN, "TENTATIVE")
    assert found.summary == f"Held: {offer.format.name}: Fernwick Library"
    free(offer=offer, member=cast.owner, now=NOW)
    assert entries(url) == {}


def test_a_session_without_an_hour_is_a_whole_day(cast, lead, url):
    row = SessionFactory(lead=lead, day=date(2026, 3, 6))
    row.crew.create(team=cast.team, member=cast.member, part=Part.SUPPORT)
    (found,) = entries(url).values()
    assert (found.starts, found.ends) == (date(2026, 3, 6), date(2026, 3, 7))


def test_who_has_it_as_it_is_gets_nothing_again(cast, lead, session, url):
    browser = Client()
    first = browser.get(url)
    with moment.stopped(NOW + timedelta(hours=3)):
        again = browser.get(url, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again["ETag"] == first["ETag"]
    weak = browser.get(url, headers={"If-None-Match": f'"other", W/{first["ETag"]}'})
    assert weak.status_code == 304
    assert browser.head(url).status_code == 200


def test_a_change_gives_another_tag_and_the_next_number(cast, lead, url):
    row = FollowUpFactory(lead=lead, action="Ask", owner=cast.member)
    first = Client().get(url)
    row.due_on = TODAY + timedelta(days=3)
    row.save_version(1)
    after = Client().get(url, headers={"If-None-Match": first["ETag"]})
    assert after.status_code == 200
    assert after["ETag"] != first["ETag"]
    before, now = (read_all(a.content.decode())[0] for a in (first, after))
    assert (before.uid, before.sequence) == (now.uid, 0)
    assert (now.sequence, now.starts) == (1, TODAY + timedelta(days=3))


def test_it_asks_only_these(cast, lead, session, url):
    for n in range(5):
        FollowUpFactory(lead=lead, owner=cast.member, action=f"Ask {n}")
        DeliverableFactory(lead=lead, owner=cast.member)
    assert tables(lambda: Client().get(url)) == [
        "followups_feed",  # whose team it is
        "followups_feed",  # with the member, the user and the team
        "discovery_discoverysession",  # with lead and format
        "discovery_offeredtime",  # with lead and format
        "discovery_deliverable",
        "followups_followup",
    ]


def test_a_wrong_token_and_one_who_left_find_nothing(cast, url):
    assert Client().get(reverse("feed-file", args=["no-such-token"])).status_code == 404
    assert Client().get(url).status_code == 200
    remove(member=cast.member, today=TODAY)
    assert Client().get(url).status_code == 404


def test_who_may_not_sign_in_any_more_has_no_feed(cast, url):
    cast.member.user.is_active = False
    cast.member.user.save()
    assert Client().get(url).status_code == 404


def test_nothing_can_be_written_by_the_address(url):
    assert Client().post(url).status_code == 405
    assert writes(lambda: Client().get(url)) == []


def test_the_page_makes_changes_and_ends_the_address(cast, sign_in):
    browser = sign_in(cast.member)
    assert "You have no address yet" in browser.get(at("feed")).text
    browser.post(at("feed-change"), {"instead_of": ""})
    first = Feed.objects.get(member=cast.member).token
    assert first in browser.get(at("feed")).text
    # the second click on "make an address"
    browser.post(at("feed-change"), {"instead_of": ""})
    assert Feed.objects.get(member=cast.member).token == first
    browser.post(at("feed-change"), {"instead_of": first})
    second = Feed.objects.get(member=cast.member).token
    assert second != first
    assert len(second) >= 40
    assert Client().get(reverse("feed-file", args=[first])).status_code == 404
    browser.post(at("feed-end"))
    assert Client().get(reverse("feed-file", args=[second])).status_code == 404
    assert not Feed.objects.exists()


def test_nobody_is_shown_another_members_address(cast, sign_in, url):
    token = Feed.objects.get().token
    page = sign_in(cast.owner).get(at("feed")).text
    assert token not in page
    assert "You have no address yet" in page


def test_a_reader_has_nothing_due_and_no_address(cast, sign_in):
    page = sign_in(cast.reader).get(at("feed")).text
    assert "Nothing is ever due for a reader" in page
    assert "Make an address" not in page


def test_what_lies_far_back_or_far_ahead_is_left_out(cast, lead, url):
    for days in (-61, -60, 400, 401):
        FollowUpFactory(
            lead=lead,
            owner=cast.member,
            action=f"{days}",
            due_on=TODAY + timedelta(days=days),
        )
    assert FollowUp.objects.count() == 4
    assert set(entries(url)) == {"-60, Fernwick Library", "400, Fernwick Library"}
