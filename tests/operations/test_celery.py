"""Celery's settings reach Celery, and its limits stand in an order in which nothing is doubled."""

from __future__ import annotations

from datetime import timedelta

from pipeline.celery import app
from pipeline.claims.due import LEASE
from pipeline.mail import delivery, smtp


def test_the_broker_is_sought_for_ever_and_asked_for_little():
    conf = app.conf
    assert conf.broker_connection_retry_on_startup
    assert conf.broker_connection_max_retries is None
    assert conf.result_backend is None
    assert conf.task_ignore_result
    assert conf.task_acks_late
    assert conf.worker_prefetch_multiplier == 1
    assert not conf.worker_cancel_long_running_tasks_on_connection_loss
    assert (conf.task_serializer, conf.accept_content) == ("json", ["json"])
    assert (conf.timezone, conf.enable_utc) == ("UTC", True)


def test_a_call_ends_by_itself_before_it_is_ended_and_before_another_gets_it():
    limit = timedelta(seconds=app.conf.task_time_limit)
    again = timedelta(seconds=app.conf.broker_transport_options["visibility_timeout"])
    # the last letter begins at LONGEST, and may take its lease
    assert delivery.LONGEST + LEASE < limit < again


def test_a_letter_is_handed_in_well_before_another_worker_may_take_it():
    """About ten exchanges with a server, each cut off after TIMEOUT."""
    assert timedelta(seconds=10 * smtp.TIMEOUT) < LEASE


def test_a_page_waits_only_seconds_for_a_broker_that_is_away():
    assert app.conf.broker_transport_options["socket_connect_timeout"] <= 5
