"""Two people at the same moment: nobody's hour is held twice, no time is booked twice."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sessions.calendars.inviting import invite
from sessions.calendars.offering import free, hold_times, take
from sessions.models import CalendarEntry, DiscoverySession, Offer, Part
from tests.conftest import NOW
from tests.factories import LeadFactory, OfferFactory
from tests.sessions.test_at_once import at_once

TEN = datetime(2026, 3, 5, 10, 0, tzinfo=UTC)


def test_of_two_who_hold_one_members_hour_for_two_leads_one_is_told(
    transactional_db, cast, lead, hour
):
    def hold_for(one, starts):
        hold_times(
            lead=one,
            member=cast.member,
            now=NOW,
            format=hour,
            minutes=60,
            starts=[starts],
            crew={Part.FACILITATOR: [cast.owner]},
        )

    other = LeadFactory(team=cast.team)
    failed = at_once(
        lambda: hold_for(lead, TEN), lambda: hold_for(other, TEN + timedelta(minutes=30))
    )
    assert [type(error).__name__ for error in failed] == ["Refused"]
    assert Offer.objects.count() == 1


def test_of_two_times_taken_at_once_one_is_booked(transactional_db, cast, lead):
    offer = OfferFactory(lead=lead, starts=[TEN, TEN + timedelta(hours=2)])
    offer.crew.create(team=cast.team, member=cast.owner, part=Part.FACILITATOR)
    first, second = offer.times.all()
    failed = at_once(
        lambda: take(time=first, member=cast.owner, now=NOW),
        lambda: take(time=second, member=cast.member, now=NOW),
    )
    assert [type(error).__name__ for error in failed] == ["Refused"]
    assert DiscoverySession.objects.count() == 1


def test_taken_and_freed_at_once_is_one_of_both(transactional_db, cast, lead):
    offer = OfferFactory(lead=lead, starts=[TEN])
    offer.crew.create(team=cast.team, member=cast.owner, part=Part.FACILITATOR)
    failed = at_once(
        lambda: take(time=offer.times.get(), member=cast.owner, now=NOW),
        lambda: free(offer=offer, member=cast.member, now=NOW),
    )
    offer.refresh_from_db()
    assert offer.closed_at is not None
    assert (offer.session is None) == bool(failed)
    assert DiscoverySession.objects.count() == (0 if failed else 1)


def test_invited_by_two_at_once_everybody_gets_one_letter(transactional_db, cast, lead, booked):
    DiscoverySession.objects.update(starts_at=TEN, day=TEN.date())
    letters = []
    failed = at_once(
        lambda: letters.append(invite(session=booked, member=cast.owner, now=NOW)),
        lambda: letters.append(invite(session=booked, member=cast.member, now=NOW)),
    )
    assert failed == []
    assert sorted(letters) == [0, 1]
    assert CalendarEntry.objects.get().sequence == 0
