"""The clock can be stopped, and tells only moments with a zone."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from pipeline.clock import moment
from tests.conftest import NOW


def test_a_stopped_clock_stands_and_blocks_nest():
    later = NOW + timedelta(hours=1)
    with moment.stopped(later):
        assert moment.now() == later
        with moment.stopped(NOW):
            assert moment.now() == NOW
        assert moment.now() == later
    assert moment.now() == NOW


def test_the_clock_goes_on_after_a_failure():
    with pytest.raises(ZeroDivisionError), moment.stopped(NOW + timedelta(1)):
        _ = 1 / 0
    assert moment.now() == NOW


def test_the_moment_is_told_in_utc():
    with moment.stopped(datetime(2026, 3, 3, 12, 0, tzinfo=timezone(timedelta(hours=3)))):
        assert moment.now() == datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
        assert moment.now().tzinfo is UTC


def test_a_moment_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"), moment.stopped(datetime(2026, 3, 3)):  # noqa: DTZ001
        pass
