"""Once a week, on the first morning on which the team works: what the week before brought."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as some

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.sweep import sweep
from pipeline.followups.weekly import MOST_WEEKS, SHOWN, review_of, weeks_told
from pipeline.mail.models import Letter
from tests.conftest import NOW
from tests.factories import (
    AbsenceFactory,
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    FormatFactory,
    FundingFactory,
    LeadFactory,
    ProposalFactory,
    SessionFactory,
)

# In 2026, Lisbon being on UTC: the week of which is told, and the morning on which it is.
FIRST, LAST = date(2026, 2, 23), date(2026, 3, 1)
MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
DAY = timedelta(days=1)
MONDAY_TO_FRIDAY = WorkCalendar()


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Tide & Co")


@pytest.fixture
def week(cast, lead):
    """One of each, and just outside the week one more of each that does not count."""
    hour = FormatFactory(team=cast.team, name="An hour")
    earlier = SessionFactory(lead=lead, format=hour, day=date(2026, 1, 20), state="held")
    held = SessionFactory(lead=lead, format=hour, day=FIRST, state="held", minutes=270)
    missed = SessionFactory(lead=lead, format=hour, day=LAST, state="missed")
    sent = DeliverableFactory(
        lead=lead, title="Map", due_on=date(2026, 2, 20), sent_on=date(2026, 2, 24)
    )
    ProposalFactory(lead=lead, sent_on=date(2026, 2, 25), fee=1500, currency="EUR")
    DecisionFactory(lead=lead, kind="no budget yet", day=date(2026, 1, 27))
    DecisionFactory(lead=lead, kind="engaged", day=date(2026, 2, 26), fee=4200, currency="EUR")
    FundingFactory(lead=lead, arrived_on=date(2026, 2, 27))
    other = LeadFactory(team=cast.team, organisation="Ebb Mill")
    late = FollowUpFactory(lead=other, action="Ask <them>", due_on=FIRST, owner=cast.member)
    for day in (FIRST - DAY, LAST + DAY):
        SessionFactory(lead=other, day=day, state="held")
        ProposalFactory(lead=other, sent_on=day)
        DecisionFactory(lead=other, kind="gone quiet", day=day)
    return {"earlier": earlier, "held": held, "missed": missed, "sent": sent, "late": late}


def reviews(now):
    """Do what is due at ``now``; return who has a review by then, with its key."""
    sweep(now)
    rows = Letter.objects.filter(stops="review").order_by("due_at", "to")
    return [(row.to.split("@")[0], row.key.split("|")[1]) for row in rows]


@pytest.mark.django_db
def test_it_tells_in_numbers_and_lines_what_the_week_brought(cast, lead, week, settings):
    settings.BASE_URL = "https://desk.example"
    assert reviews(MONDAY) == [(name, "2026-W10") for name in ("mateus", "olive", "rea")]
    letter = Letter.objects.get(to="rea@harbour.example")
    assert letter.subject == (
        "Harbour Studio, last week: sessions held 1, sessions missed 1, promised things sent 1, "
        "proposals sent 1, decisions 1, returns 1, money that arrived 1, late now 1"
    )
    of_lead = f"https://desk.example/t/harbour/leads/{lead.pk}/"
    link = {name: f"https://desk.example{row.get_absolute_url()}" for name, row in week.items()}
    assert (
        letter.text.partition("\nYou get this letter")[0]
        == f"""Good day Rea Lindqvist,

this is what became of the days from Mon 23 Feb 2026 to Sun 1 Mar 2026 at Harbour Studio.

Free sessions: 4 h 30 min of the 4 h that you give a week, 30 min too many.

SESSIONS HELD: 1

- Mon 23 Feb 2026: An hour — Tide & Co
  {link["held"]}

SESSIONS MISSED: 1

- Sun 1 Mar 2026: An hour — Tide & Co
  {link["missed"]}

PROMISED THINGS SENT: 1

- Tue 24 Feb 2026: Map, after it was due on Fri 20 Feb 2026 — Tide & Co
  {link["sent"]}

PROPOSALS SENT: 1

- Wed 25 Feb 2026: Proposal, 1,500.00 EUR — Tide & Co
  {of_lead}

DECISIONS: 1

- Thu 26 Feb 2026: engaged, 4,200.00 EUR — Tide & Co
  {of_lead}

RETURNS: 1

- Thu 26 Feb 2026: engaged after “no budget yet”, earned by An hour of Tue 20 Jan 2026 — Tide & Co
  {of_lead}

MONEY THAT ARRIVED: 1

- Fri 27 Feb 2026: money arrived — Tide & Co
  {of_lead}

LATE NOW: 1

- Mon 23 Feb 2026: Ask <them> — Ebb Mill (Mateus Coelho)
  {link["late"]}

All figures, with what they can tell and what not:
https://desk.example/t/harbour/results/
"""
    )
    assert "Ask &lt;them&gt;" in letter.html


@pytest.mark.django_db
def test_what_there_was_none_of_is_said_in_one_line(cast, lead):
    ProposalFactory(lead=lead, sent_on=FIRST)
    reviews(MONDAY)
    text = Letter.objects.filter(stops="review")[0].text
    assert "PROPOSALS SENT: 1" in text
    assert (
        "None: sessions held, sessions missed, promised things sent, decisions, returns, "
        "money that arrived, late now."
    ) in text


@pytest.mark.django_db
def test_a_week_of_which_there_is_nothing_to_tell_has_no_letter(cast):
    assert reviews(MONDAY) == []


@pytest.mark.django_db
def test_it_comes_once_a_week_whatever_else_is_swept(cast, week):
    for hours in range(0, 24 * 8, 6):
        sweep(MONDAY - DAY + timedelta(hours=hours))
    assert [key for _, key in reviews(MONDAY + 6 * DAY)] == ["2026-W10"] * 3


@pytest.mark.django_db
def test_a_monday_that_was_missed_is_made_up_for_and_three_weeks_give_one(cast, week):
    assert reviews(MONDAY - 3 * DAY)[0] == ("mateus", "2026-W09")
    told = reviews(MONDAY + 2 * DAY)
    assert [key for _, key in told].count("2026-W10") == 3
    told = reviews(MONDAY + 21 * DAY)
    assert [key for _, key in told if key > "2026-W10"] == ["2026-W13"] * 3


@pytest.mark.django_db
def test_where_monday_is_no_working_day_it_comes_on_tuesday(cast, week):
    cast.team.days_off = [["2026-03-02", "2026-03-02", "Move"]]
    cast.team.save()
    assert reviews(MONDAY) == []
    assert len(reviews(MONDAY + DAY)) == 3


@pytest.mark.django_db
def test_who_is_away_gets_it_on_coming_back(cast, week):
    AbsenceFactory(member=cast.member, first_day=FIRST, last_day=date(2026, 3, 3))
    assert [name for name, _ in reviews(MONDAY)] == ["olive", "rea"]
    assert [name for name, _ in reviews(MONDAY + DAY)] == ["olive", "rea"]
    assert ("mateus", "2026-W10") in reviews(MONDAY + 2 * DAY)


@pytest.mark.django_db
def test_who_wants_none_gets_none(cast, week):
    cast.reader.wants_review = False
    cast.reader.save()
    assert [name for name, _ in reviews(MONDAY)] == ["mateus", "olive"]


@pytest.mark.django_db
def test_a_long_list_is_cut_and_counted(cast, lead):
    FollowUpFactory.create_batch(SHOWN + 1, lead=lead, due_on=FIRST)
    reviews(MONDAY)
    text = Letter.objects.filter(stops="review")[0].text
    assert f"LATE NOW: {SHOWN + 1}" in text
    assert "- 1 more is not listed here." in text


@pytest.mark.django_db
def test_another_teams_week_and_a_merged_lead_are_left_out(cast, lead, week):
    SessionFactory(lead=LeadFactory(team=cast.other_team), day=FIRST, state="held")
    gone = LeadFactory(team=cast.team, merged_into=lead)
    ProposalFactory(lead=gone, sent_on=FIRST)
    counts = [part.count for part in review_of(cast.team, FIRST, LAST, NOW.date()).parts]
    assert counts == [1, 1, 1, 1, 1, 1, 1, 1]


@pytest.mark.django_db
def test_a_week_asks_only_these(cast, lead, week, django_assert_num_queries):
    FollowUpFactory.create_batch(30, lead=lead, due_on=FIRST)
    SessionFactory.create_batch(9, lead=lead, day=FIRST, state="held")
    # sessions, decisions, deliverables, proposals, money; of who engaged sessions and decisions;
    # late ones of three kinds, counted and listed; the crew of none; the week's minutes
    with django_assert_num_queries(14):
        review_of(cast.team, FIRST, LAST, FIRST + 8 * DAY)


def test_the_week_before_is_told_of():
    for day in range(2, 9):
        assert weeks_told(MONDAY_TO_FRIDAY, date(2026, 3, day)) == (FIRST, LAST)


@pytest.mark.django_db
def test_of_several_weeks_each_has_its_own_hours(cast, week):
    cast.team.days_off = [["2026-02-23", "2026-03-01", "Move"]]
    cast.team.save()
    reviews(MONDAY)
    text = Letter.objects.filter(stops="review")[0].text
    assert "what became of the days from Mon 16 Feb 2026 to Sun 1 Mar 2026" in text
    assert "Free sessions, Mon 16 Feb 2026 to Sun 22 Feb 2026: 1 h of the 4 h" in text
    assert "Free sessions, Mon 23 Feb 2026 to Sun 1 Mar 2026: 4 h 30 min of the 4 h" in text


def test_after_a_week_in_which_nobody_worked_the_one_before_it_comes_along():
    off = frozenset(date(2026, 2, 23) + n * DAY for n in range(5))
    calendar = WorkCalendar(days_off=off)
    assert weeks_told(calendar, date(2026, 3, 2)) == (date(2026, 2, 16), LAST)
    # one day of work, and they were told then
    calendar = WorkCalendar(days_off=off - {date(2026, 2, 27)})
    assert weeks_told(calendar, date(2026, 3, 2)) == (FIRST, LAST)


@given(
    off=some.sets(some.integers(0, 60)),
    weekdays=some.sets(some.integers(0, 6), min_size=1),
)
def test_every_day_is_told_of_once_week_by_week(off, weekdays):
    """Whatever days off a team has, short of a break that is longer than is looked back."""
    start = date(2026, 1, 5)
    calendar = WorkCalendar(
        weekdays=frozenset(weekdays), days_off=frozenset(start + n * DAY for n in off)
    )
    mondays = [start + n * 7 * DAY for n in range(MOST_WEEKS, 10)]
    working = [m for m in mondays if any(calendar.is_working(m + n * DAY) for n in range(7))]
    spans = [weeks_told(calendar, monday) for monday in working]
    for (_, before), (first, last) in pairwise(spans):
        assert first == before + DAY
        assert first < last
