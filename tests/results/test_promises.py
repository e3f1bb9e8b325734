"""What was promised, when it went out, and what followed."""

from datetime import date

import pytest

from pipeline.results.figures.promises import promises
from pipeline.results.questions.promises import after_sending, sent_by_day
from pipeline.stats.proportions import wilson_interval
from tests.factories import DecisionFactory, DeliverableFactory, SessionFactory

from .rows import AS_OF, INDEX, add_lead
from .work import DAY, cohort, promised, session_of


def figure(team, as_of=AS_OF, **filters):
    return promises(cohort(team, as_of, **filters))


def test_on_time_is_what_was_sent_by_its_due_day(cast):
    for sent in (0, 5, 6, None):
        promised(add_lead(cast.team), due=5, sent=sent)
    found = figure(cast.team)
    assert (found.promised, found.sent, found.owed) == (4, 3, 1)
    assert (found.due, found.on_time) == (4, 2)
    assert found.on_time_rate.estimate == 0.5
    low, high = wilson_interval(2, 4)
    assert (found.on_time_rate.low, found.on_time_rate.high) == (low, high)


def test_what_is_due_today_or_later_is_not_judged_yet(cast):
    promised(add_lead(cast.team), due=5)
    promised(add_lead(cast.team), due=5, sent=1)
    assert figure(cast.team, INDEX + 5 * DAY).due == 0
    late = figure(cast.team, INDEX + 6 * DAY)
    assert (late.due, late.on_time) == (2, 1)


def test_waiving_in_time_ends_a_promise_and_waiving_late_breaks_it(cast):
    promised(add_lead(cast.team), due=5, waived=5)
    promised(add_lead(cast.team), due=5, waived=6)
    found = figure(cast.team)
    assert (found.waived, found.due, found.on_time) == (2, 1, 0)


def test_as_of_a_day_what_was_sent_later_is_still_owed(cast):
    promised(add_lead(cast.team), due=5, sent=9)
    found = figure(cast.team, INDEX + 8 * DAY)
    assert (found.sent, found.owed, found.due, found.on_time) == (0, 1, 1, 0)


def test_a_deliverable_without_its_session_is_not_counted(cast):
    DeliverableFactory(lead=add_lead(cast.team), due_on=INDEX, sent_on=INDEX)
    assert figure(cast.team).promised == 0


def test_nothing_promised_tells_nothing(cast):
    found = figure(cast.team)
    assert found.on_time_rate.estimate is None
    assert found.missed_rate.estimate is None
    assert found.median.day is None


def test_the_median_counts_working_days_of_the_teams_calendar(cast):
    """From Friday 3 January 2025; Monday the 6th is the first working day after it."""
    friday = date(2025, 1, 3)
    for sent in (0, 3, 5):
        promised(add_lead(cast.team, held=friday), sent=sent)
    found = figure(cast.team)
    # 0, 1 and 3 working days: half had gone out by the first working day.
    assert found.curve.days.tolist() == [0, 1, 3]
    assert found.median.day == 1


def test_a_public_holiday_is_no_working_day(cast):
    """1 January 2025, a Wednesday, is one in Portugal; from Tuesday to Thursday lies one day."""
    promised(add_lead(cast.team, held=date(2024, 12, 31)), sent=2)
    assert figure(cast.team).curve.days.tolist() == [1]


def test_what_is_still_owed_holds_the_median_open(cast):
    """Two of five went out; of the sent alone the median would be their own."""
    for sent in (1, 2, None, None, None):
        promised(add_lead(cast.team), sent=sent)
    assert figure(cast.team).median.day is None


def test_missed_is_a_share_of_missed_and_held(cast):
    for state, day in (
        ("held", INDEX),
        ("held", INDEX),
        ("missed", INDEX),
        ("cancelled", INDEX),
        ("booked", INDEX),
        ("booked", AS_OF),
        ("missed", AS_OF + DAY),
    ):
        SessionFactory(lead=add_lead(cast.team, held=AS_OF + 9 * DAY), state=state, day=day)
    found = figure(cast.team)
    assert (found.held, found.missed, found.cancelled, found.unmarked) == (2, 1, 1, 1)
    assert found.missed_rate.estimate == pytest.approx(1 / 3)


def engaged_after(team, sent: int | None, decided: int | None, kind: str = "engaged"):
    lead = add_lead(team)
    if decided is not None:
        DecisionFactory(lead=lead, kind=kind, day=INDEX + decided * DAY)
    if sent is not None:
        promised(lead, sent=sent)
    return lead


def test_leads_are_followed_from_the_day_something_was_sent(cast):
    """Who decided before, or was sent nothing, is in no group: nobody outlives the wait for it."""
    engaged_after(cast.team, 2, 10)
    engaged_after(cast.team, 4, 4)
    engaged_after(cast.team, 9, 3)
    engaged_after(cast.team, None, 12)
    found = figure(cast.team).after_sending
    assert (found.not_sent, found.decided) == (1, 1)
    assert [(band.least, band.most, band.leads, band.engaged) for band in found.bands] == [
        (0, 3, 1, 1),
        (4, 7, 1, 1),
        (8, None, 0, 0),
    ]
    assert found.bands[0].curve.days.tolist() == [8]
    assert found.bands[1].curve.days.tolist() == [0]


def test_bands_are_compared_where_each_has_ten_at_risk(cast):
    for sent in (1, 5, 20):
        for number in range(12):
            engaged_after(cast.team, sent, 60 if number < 2 else None)
    found = figure(cast.team).after_sending
    # 31 December is 355 days after the session: nobody is followed for 365 days.
    assert found.days == 180
    assert [band.within.estimate for band in found.bands] == pytest.approx([1 / 6] * 3)
    nine = figure(cast.team, INDEX + 49 * DAY).after_sending
    assert nine.days is None
    assert {band.within for band in nine.bands} == {None}


def test_the_first_thing_sent_after_the_index_session_puts_a_lead_in_its_group(cast):
    lead = engaged_after(cast.team, 12, None)
    promised(lead, sent=6)
    other = SessionFactory(lead=lead, day=INDEX + DAY, state="held")
    DeliverableFactory(lead=lead, session=other, sent_on=INDEX + DAY)
    assert [(row.band, row.leads) for row in after_sending(cohort(cast.team))] == [(1, 1)]


def test_filters_narrow_what_was_promised_but_not_missed_sessions(cast):
    promised(add_lead(cast.team, owner=cast.member), sent=1)
    promised(add_lead(cast.team))
    found = figure(cast.team, owners=(cast.member.pk,))
    assert (found.promised, found.held) == (1, 2)


def test_ten_times_as_many_leads_send_no_more_rows(cast):
    rows = []
    for number in (2, 18):
        for _ in range(number):
            promised(engaged_after(cast.team, 3, 30))
        rows.append((sent_by_day(cohort(cast.team)), after_sending(cohort(cast.team))))
    (few, few_after), (many, many_after) = rows
    assert len(few) == len(many) == 2
    assert len(few_after) == len(many_after) == 1
    assert many_after[0].leads == 20


def test_it_asks_three_questions(cast, django_assert_num_queries):
    promised(add_lead(cast.team), sent=1)
    # what was sent by day, states of sessions, what followed a sending
    with django_assert_num_queries(3):
        figure(cast.team)


def test_a_sheet_that_sends_before_the_session_counts_as_the_same_day(cast):
    lead = add_lead(cast.team)
    DeliverableFactory(lead=lead, session=session_of(lead), due_on=INDEX, sent_on=INDEX - DAY)
    found = figure(cast.team)
    assert (found.on_time, found.curve.days.tolist()) == (1, [0])
