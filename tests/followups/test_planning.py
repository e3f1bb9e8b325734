"""What the plan asks for after each fact: common practice in the examples, no source."""

from datetime import date

import pytest

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.planning import plan
from tests.followups.planning import by, days, fact, step

# Public holidays of Portugal in 2026: Good Friday 3 April, Easter 5 April, 25 April (a Saturday),
# Labour Day 1 May (from memory; the holidays library is what the program asks).
LISBON = WorkCalendar(country="PT")


def test_working_days_skip_weekends_and_public_holidays():
    steps = [step("deliverable sent", 2, "working days")]
    # Wednesday 1 April: Thursday is the first, Friday is Good Friday, Monday the second.
    wanted = plan([fact("deliverable sent", "2026-04-01")], by(steps), LISBON)
    assert days(wanted) == ["2026-04-06"]


def test_weeks_that_end_on_a_holiday_move_on_to_a_working_day():
    steps = [step("proposal sent", 2, "weeks")]
    assert days(plan([fact("proposal sent", "2026-04-17")], by(steps), LISBON)) == ["2026-05-04"]


def test_months_clip_to_the_end_of_a_short_month():
    steps = [step("gone quiet", 1, "months")]
    # 28 February 2026 is a Saturday.
    assert days(plan([fact("gone quiet", "2026-01-31")], by(steps), LISBON)) == ["2026-03-02"]


def test_a_repeated_step_gives_a_turn_for_each_time():
    steps = [step("no budget yet", 3, "months", times=3)]
    wanted = plan([fact("no budget yet", "2026-01-15")], by(steps), LISBON)
    assert days(wanted) == ["2026-04-15", "2026-07-15", "2026-10-15"]
    assert [item.turn for item in wanted] == [1, 2, 3]


def test_a_reminder_before_the_expected_money_counts_back_from_it():
    steps = [step("no budget yet", 2, "weeks before funding")]
    said = fact("no budget yet", "2026-01-15", expected_on=date(2026, 9, 1))
    assert days(plan([said], by(steps), LISBON)) == ["2026-08-18"]


def test_a_reminder_after_the_expected_money_counts_on_from_the_end_of_its_month():
    steps = [step("no budget yet", 2, "weeks after expected", times=2)]
    month, until = date(2026, 9, 1), date(2026, 9, 30)
    said = fact("no budget yet", "2026-01-15", expected_on=month, expected_until=until)
    assert days(plan([said], by(steps), LISBON)) == ["2026-10-14", "2026-10-28"]
    assert plan([fact("no budget yet", "2026-01-15")], by(steps), LISBON) == []


def test_a_reminder_before_money_that_nobody_expects_is_not_wanted():
    steps = [step("no budget yet", 2, "weeks before funding")]
    assert plan([fact("no budget yet", "2026-01-15")], by(steps), LISBON) == []


def test_a_reminder_that_would_lie_before_its_own_fact_is_due_at_once():
    steps = [step("no budget yet", 2, "weeks before funding", times=3)]
    # The money is expected in nine days. 23 May 2026 is a Saturday.
    said = fact("no budget yet", "2026-05-23", expected_on=date(2026, 6, 1))
    wanted = plan([said], by(steps), LISBON)
    assert days(wanted) == ["2026-05-25"]


def test_what_is_due_before_the_day_of_an_import_is_not_wanted():
    steps = [step("no budget yet", 3, "months", times=4)]
    said = fact("no budget yet", "2025-01-15", plan_from=date(2025, 7, 15))
    assert days(plan([said], by(steps), LISBON)) == ["2025-07-15", "2025-10-15", "2026-01-15"]


def test_facts_of_one_kind_on_one_day_and_of_one_title_are_one():
    steps = [step("session missed", 1, "working days")]
    missed = fact("session missed", "2026-03-03")
    assert len(plan([missed, missed], by(steps), LISBON)) == 1


def test_two_deliverables_sent_on_one_day_are_two():
    steps = [step("deliverable sent", 2, "working days")]
    sent = [fact("deliverable sent", "2026-03-03", title=title) for title in ("Map", "Takeaway")]
    assert len(plan(sent, by(steps), LISBON)) == 2


def test_a_key_says_fact_day_step_and_turn_and_nothing_of_the_database():
    steps = [step("deliverable sent", 2, "working days", position=4)]
    (wanted,) = plan([fact("deliverable sent", "2026-03-03", title="Map")], by(steps), LISBON)
    assert wanted.key == "deliverable sent|2026-03-03|Map|4|1"


@pytest.mark.parametrize(
    ("unit", "extra"),
    [
        ("working days", {}),
        ("weeks", {}),
        ("months", {}),
        ("weeks before funding", {"expected_on": date.max}),
        ("weeks after expected", {"expected_until": date.max}),
    ],
)
def test_the_end_of_the_calendar_is_as_far_as_a_day_can_be_put(unit, extra):
    steps = [step("no budget yet", 520, unit, times=24)]
    wanted = plan([fact("no budget yet", "9999-12-20", **extra)], by(steps), WorkCalendar())
    assert wanted
    assert all(date(9999, 12, 20) <= item.due_on <= date.max for item in wanted)


def test_a_reminder_that_would_lie_before_the_first_year_is_due_at_once():
    steps = [step("no budget yet", 520, "weeks before funding")]
    said = fact("no budget yet", "0001-01-02", expected_on=date(1, 2, 1))
    assert days(plan([said], by(steps), WorkCalendar())) == ["0001-01-02"]
