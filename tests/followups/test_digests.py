"""A digest: one letter a working day to each member who wants it, from the team's hour on."""

from datetime import UTC, date, datetime, timedelta

import pytest

from pipeline.followups import digests
from pipeline.followups.models import Digest
from pipeline.followups.sweep import sweep
from pipeline.jobs.models import Job
from pipeline.mail.models import Letter
from sessions.models import CrewPlace
from tests.conftest import NOW
from tests.factories import (
    AbsenceFactory,
    DeliverableFactory,
    FollowUpFactory,
    LeadFactory,
    SessionFactory,
)

pytestmark = pytest.mark.django_db


def at(*when):
    return datetime(*when, tzinfo=UTC)


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Tide & Co")


def write_digests(now):
    """Do what is due at ``now``; return how many digests that wrote."""
    before = Digest.objects.exclude(letter=None).count()
    sweep(now)
    return Digest.objects.exclude(letter=None).count() - before


def to(member):
    return Letter.objects.filter(member=member, stops="digest")


def test_it_tells_what_is_late_due_and_ahead_with_links(cast, lead, settings):
    settings.BASE_URL = "https://desk.example"
    late = FollowUpFactory(
        lead=lead,
        action="Ask <them>",
        because="proposal sent on 1 Feb 2026",
        due_on=date(2026, 2, 24),
        owner=cast.member,
    )
    DeliverableFactory(lead=lead, title="Map", due_on=date(2026, 3, 3), owner=cast.member)
    session = SessionFactory(
        lead=lead, day=date(2026, 3, 10), starts_at=at(2026, 3, 10, 14), format__name="An hour"
    )
    CrewPlace.objects.create(
        team=cast.team, session=session, member=cast.member, part="facilitator"
    )
    FollowUpFactory(lead=lead, due_on=date(2026, 9, 1), owner=cast.member)
    write_digests(NOW)
    letter = to(cast.member).get()
    assert letter.subject == "Harbour Studio: 1 late, 1 due today, 1 ahead"
    assert letter.to == "mateus@harbour.example"
    text, foot = letter.text.split("\nYou get this letter")
    assert (
        text
        == f"""Good day Mateus Coelho,

LATE

- Tue 24 Feb 2026 (7 days ago): Ask <them> — Tide & Co
  proposal sent on 1 Feb 2026
  https://desk.example/t/harbour/follow-ups/{late.pk}/

DUE TODAY, Tue 3 Mar 2026

- Tue 3 Mar 2026: Send: Map — Tide & Co
  https://desk.example{lead.deliverables.get().get_absolute_url()}

THE NEXT 14 DAYS

- Tue 10 Mar 2026, 14:00: Session: An hour — Tide & Co
  https://desk.example{session.get_absolute_url()}

All of it, with buttons to mark things done or put them off:
https://desk.example/t/harbour/
"""
    )
    assert foot.startswith(
        " as a member of Harbour Studio who wants the daily digest. It comes on working days from "
        "08:00 on.\nStop the daily digest: https://desk.example/stop/"
    )
    assert "Ask &lt;them&gt;" in letter.html
    assert f'href="https://desk.example/t/harbour/follow-ups/{late.pk}/"' in letter.html


def test_each_member_hears_of_their_own_and_of_what_nobody_owns(cast, lead):
    FollowUpFactory(lead=lead, action="Hers", owner=cast.owner)
    FollowUpFactory(lead=lead, action="Free", owner=None)
    write_digests(NOW)
    assert "Hers" in to(cast.owner).get().text
    assert "Hers" not in to(cast.member).get().text
    assert "Free — Tide & Co (nobody’s)" in to(cast.member).get().text


def test_where_nothing_is_due_the_day_is_noted_and_no_letter_written(cast, lead):
    FollowUpFactory(lead=lead, due_on=date(2026, 9, 1))
    assert write_digests(NOW) == 0
    assert Digest.objects.filter(member=cast.member, day=date(2026, 3, 3), letter=None).exists()
    # What becomes due later that day waits for tomorrow.
    FollowUpFactory(lead=lead)
    assert write_digests(NOW + timedelta(hours=1)) == 0


def test_readers_and_those_who_do_not_want_it_or_may_not_sign_in_get_none(cast, lead):
    FollowUpFactory(lead=lead)
    cast.owner.wants_digest = False
    cast.owner.save()
    cast.member.user.is_active = False
    cast.member.user.save()
    assert write_digests(NOW) == 0
    assert not Digest.objects.filter(team=cast.team).exists()


def test_it_waits_for_the_teams_hour(cast, lead):
    FollowUpFactory(lead=lead)
    # Lisbon is on UTC in March.
    assert write_digests(at(2026, 3, 3, 7, 59)) == 0
    assert write_digests(at(2026, 3, 3, 8, 0)) == 2


def test_another_zone_has_its_own_day(cast):
    FollowUpFactory(lead=LeadFactory(team=cast.other_team), due_on=date(2026, 3, 2))
    # Eight in New York is 13:00 UTC; at 03:00 UTC it is still the evening before there.
    assert write_digests(at(2026, 3, 3, 3, 0)) == 1
    assert Digest.objects.get(member=cast.other_owner).day == date(2026, 3, 2)
    assert write_digests(at(2026, 3, 3, 12, 59)) == 0
    assert write_digests(at(2026, 3, 3, 13, 0)) == 1


def test_none_comes_on_a_weekend_or_a_holiday(cast, lead):
    FollowUpFactory(lead=lead)
    # Good Friday, and the Saturday after it.
    for day in (3, 4):
        assert write_digests(at(2026, 4, day, 12)) == 0
    assert write_digests(at(2026, 4, 6, 12)) == 2


def test_after_a_gap_of_three_days_only_todays_comes(cast, lead):
    FollowUpFactory(lead=lead)
    write_digests(at(2026, 3, 3, 9))
    write_digests(at(2026, 3, 6, 9))
    assert sorted(Digest.objects.filter(member=cast.member).values_list("day", flat=True)) == [
        date(2026, 3, 3),
        date(2026, 3, 6),
    ]


def test_the_morning_that_skips_the_digests_hour_still_has_one(cast, lead):
    # Lisbon's clocks go from 01:00 to 02:00 on Sunday 29 March 2026.
    cast.team.digest_hour, cast.team.working_days = 1, [6]
    cast.team.save()
    FollowUpFactory(lead=lead)
    assert write_digests(at(2026, 3, 29, 0, 59)) == 0
    assert write_digests(at(2026, 3, 29, 1, 0)) == 2
    assert write_digests(at(2026, 3, 29, 2, 0)) == 0


def test_the_morning_that_has_the_digests_hour_twice_has_one_digest(cast, lead):
    # Lisbon's clocks go from 02:00 back to 01:00 on Sunday 25 October 2026.
    cast.team.digest_hour, cast.team.working_days = 1, [6]
    cast.team.save()
    FollowUpFactory(lead=lead)
    assert write_digests(at(2026, 10, 24, 23, 59)) == 0
    assert write_digests(at(2026, 10, 25, 0, 0)) == 2
    assert write_digests(at(2026, 10, 25, 1, 0)) == 0


@pytest.mark.parametrize("day", [date(2026, 3, 27), date(2026, 3, 30), date(2026, 10, 26)])
def test_around_a_change_of_clocks_the_hour_is_the_local_one(cast, lead, day):
    FollowUpFactory(lead=lead)
    hour = 8 if day == date(2026, 3, 27) or day.month == 10 else 7
    assert write_digests(at(day.year, day.month, day.day, hour - 1, 59)) == 0
    assert write_digests(at(day.year, day.month, day.day, hour, 0)) == 2


def test_one_bad_row_holds_up_no_other(cast, lead, caplog):
    FollowUpFactory(lead=lead)
    FollowUpFactory(lead=LeadFactory(team=cast.other_team))
    type(cast.team).objects.filter(pk=cast.team.pk).update(timezone="Nowhere/None")
    assert write_digests(at(2026, 3, 3, 14)) == 1
    assert "could not be set" in caplog.text


def test_one_members_failure_leaves_no_trace_and_is_tried_again(cast, lead, monkeypatch, caplog):
    FollowUpFactory(lead=lead)
    whole = digests.write_to_member

    def broken(member, **letter):
        if member == cast.owner:
            raise RuntimeError("no room")
        return whole(member, **letter)

    monkeypatch.setattr(digests, "write_to_member", broken)
    assert write_digests(NOW) == 1
    assert "no room" in Job.objects.stuck().get().last_error
    monkeypatch.setattr(digests, "write_to_member", whole)
    assert write_digests(NOW) == 0
    assert write_digests(NOW + timedelta(minutes=1)) == 1
    assert to(cast.owner).count() == to(cast.member).count() == 1


def test_who_stands_in_hears_of_that_work_and_who_is_away_gets_nothing(cast, lead):
    AbsenceFactory(member=cast.owner, stand_in=cast.member, last_day=date(2026, 3, 6))
    FollowUpFactory(lead=lead, action="Hers", owner=cast.owner)
    assert write_digests(NOW) == 1
    text = to(cast.member).get().text
    assert "You stand in for Olive Brandt, who is away until Fri 6 Mar 2026." in text
    assert "Hers — Tide & Co, Mateus Coelho (for Olive Brandt, away until 6 Mar 2026)" in text
    # Monday: she is back, and so is her work.
    assert write_digests(at(2026, 3, 9, 9)) == 1
    assert "Hers — Tide & Co" in to(cast.owner).get().text


def test_one_digest_asks_only_these(cast, lead, django_assert_num_queries):
    """However much there is to do now, and whatever is due later."""
    FollowUpFactory.create_batch(20, lead=lead, owner=cast.member)
    FollowUpFactory.create_batch(20, lead=lead, owner=cast.member, due_on=date(2027, 3, 3))
    cast.member.team = cast.team
    # a savepoint and its end, the digest, who is away, two of each kind, the crew where there are
    # sessions, the letter (asked for, a savepoint around it, stored), the digest's letter
    with django_assert_num_queries(15):
        digests.write_digest(cast.member, date(2026, 3, 3), now=NOW)


def test_what_is_due_later_is_not_even_counted(cast, lead):
    FollowUpFactory(lead=lead, owner=cast.member)
    FollowUpFactory(lead=lead, owner=cast.member, due_on=date(2027, 3, 3))
    write_digests(NOW)
    assert "later" not in to(cast.member).get().text
