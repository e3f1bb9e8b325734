"""Which edition of a plan a fact goes by, and what a changed plan means for what is open."""

from datetime import UTC, date, datetime

import pytest

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.planning import Edition, plan
from tests.followups.planning import days, fact, step

ANY_DAY = WorkCalendar(weekdays=frozenset(range(7)))
MADE = datetime(2026, 3, 3, 9, tzinfo=UTC)
BEFORE, AFTER = datetime(2026, 3, 3, 8, tzinfo=UTC), datetime(2026, 3, 3, 10, tzinfo=UTC)

FIRST = Edition(1, [step("proposal sent", 10, "weeks"), step("gone quiet", 6, "weeks")])
LATER = [step("proposal sent", 20, "weeks"), step("gone quiet", 1, "weeks")]
SECOND = Edition(2, LATER, made_at=MADE)
EVERYWHERE = Edition(2, LATER, made_at=MADE, everywhere_from=date(2026, 3, 3))


@pytest.mark.parametrize(
    ("recorded_at", "editions", "due"),
    [
        (BEFORE, [FIRST], "2026-05-12"),
        (None, [FIRST], "2026-05-12"),
        (BEFORE, [FIRST, SECOND], "2026-05-12"),
        (None, [FIRST, SECOND], "2026-05-12"),
        (MADE, [FIRST, SECOND], "2026-07-21"),
        (AFTER, [SECOND, FIRST], "2026-07-21"),
        (BEFORE, [FIRST, EVERYWHERE], "2026-07-21"),
        (None, [EVERYWHERE, FIRST], "2026-07-21"),
    ],
)
def test_a_fact_goes_by_the_newest_edition_that_holds_for_it(recorded_at, editions, due):
    sent = fact("proposal sent", "2026-03-03", recorded_at=recorded_at)
    assert days(plan([sent], editions, ANY_DAY)) == [due]


def test_a_fact_before_every_edition_is_followed_by_nothing():
    sent = fact("proposal sent", "2026-03-03", recorded_at=BEFORE)
    assert plan([sent], [SECOND], ANY_DAY) == []
    assert plan([sent], [], ANY_DAY) == []


def test_an_older_day_that_is_recorded_now_goes_by_the_plan_of_now():
    said = fact("gone quiet", "2026-01-05", recorded_at=AFTER)
    assert days(plan([said], [FIRST, EVERYWHERE], ANY_DAY)) == ["2026-01-12"]


@pytest.mark.parametrize(
    ("planned_on", "becomes"),
    [
        # not there: it would lie before the change
        (None, None),
        # there, and ahead of the change: due with it
        (date(2026, 3, 10), date(2026, 3, 3)),
        # late already: it stays late
        (date(2026, 2, 10), date(2026, 2, 10)),
    ],
)
def test_what_a_changed_plan_puts_before_its_change_is_due_with_it(planned_on, becomes):
    said = fact("gone quiet", "2026-02-03", recorded_at=BEFORE)
    (wanted,) = plan([said], [FIRST, EVERYWHERE], ANY_DAY)
    assert wanted.due_on == date(2026, 2, 10)
    assert wanted.day(planned_on, ANY_DAY) == becomes


def test_a_change_on_a_day_off_is_due_on_the_next_working_day():
    said = fact("gone quiet", "2026-02-03", recorded_at=BEFORE)
    sunday = Edition(2, LATER, made_at=MADE, everywhere_from=date(2026, 3, 8))
    (wanted,) = plan([said], [sunday], WorkCalendar())
    monday = date(2026, 3, 9)
    assert wanted.day(date(2026, 3, 17), WorkCalendar()) == monday
    assert wanted.day(monday, WorkCalendar()) == monday


def test_the_day_of_an_import_does_not_end_what_a_changed_plan_moves_forward():
    said = fact("gone quiet", "2026-01-05", recorded_at=BEFORE, plan_from=date(2026, 2, 2))
    (wanted,) = plan([said], [FIRST, EVERYWHERE], ANY_DAY)
    assert wanted.day(date(2026, 3, 16), ANY_DAY) == date(2026, 3, 3)
    assert wanted.day(None, ANY_DAY) is None
