"""The wait between attempts doubles up to a limit, and half of it is chance."""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from pipeline.claims.backoff import LONGEST, longest_wait, wait
from pipeline.mail.models import Letter


def test_it_doubles_from_a_minute_up_to_eight_hours():
    minutes = [longest_wait(n) / timedelta(minutes=1) for n in range(1, 12)]
    assert minutes == [1, 2, 4, 8, 16, 32, 64, 128, 256, 480, 480]


@given(st.integers(1, 10_000))
def test_it_lies_between_half_the_longest_and_the_longest(attempts):
    assert longest_wait(attempts) / 2 <= wait(attempts) <= longest_wait(attempts) <= LONGEST


def test_rows_that_failed_together_are_spread_out():
    assert len({wait(5) for _ in range(50)}) > 40


def test_a_letter_is_tried_for_four_days_on_average():
    # RFC 5321, 4.5.4.1: the give-up time generally needs to be at least 4-5 days.
    whole = sum((longest_wait(n) for n in range(1, Letter.tries)), timedelta())
    assert whole * 0.75 > timedelta(days=4)
