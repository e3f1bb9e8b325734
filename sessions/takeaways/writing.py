"""Write down what came of a session: the short form after the hour, the write-up, the chart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from pipeline.teams.models import Member
from pipeline.teams.refused import Refused
from sessions.booking import amend, mark_missed
from sessions.holding import hold
from sessions.locking import take_session
from sessions.models import (
    AfterHour,
    DiscoverySession,
    LaneChart,
    LaneStep,
    State,
    WriteUp,
)

from .chart import MOST_LANES, Chart, StepDraft


@transaction.atomic
def note_after_hour(
    *,
    session: DiscoverySession,
    member: Member | None,
    now: datetime,
    expected_version: int,
    state: str,
    attendee_count: int | None,
    decides: str,
    budget: str,
    asked_for: str,
) -> AfterHour:
    """Say whether anybody came (``state``), how many, and what the team learned of the lead.

    A held session owes what its format promises, as when it is marked held on its page.
    """
    session = take_session(session, None)
    row: AfterHour
    row, _ = AfterHour.objects.get_or_create(team=session.team, session=session)
    row.decides, row.budget, row.asked_for = decides, budget, asked_for
    row.save_version(expected_version)
    if state == State.MISSED:
        mark_missed(session=session, member=member, now=now, reason=session.reason)
        return row
    session = hold(session=session, member=member, now=now)
    if session.attendee_count != attendee_count:
        count = {"attendee_count": attendee_count}
        amend(session=session, member=member, now=now, plain=count)
    return row


@transaction.atomic
def write_up(
    *,
    session: DiscoverySession,
    expected_version: int,
    challenge: str,
    goal: str,
    opportunities: str,
    next_steps: str,
) -> WriteUp:
    """Store what the crew wrote for the lead."""
    session = take_session(session, None)
    row: WriteUp
    row, _ = WriteUp.objects.get_or_create(team=session.team, session=session)
    row.challenge, row.goal = challenge, goal
    row.opportunities, row.next_steps = opportunities, next_steps
    row.save_version(expected_version)
    return row


@transaction.atomic
def draw(
    *, session: DiscoverySession, expected_version: int, steps: Sequence[StepDraft]
) -> LaneChart:
    """Store the lane chart as a whole."""
    session = take_session(session, None)
    if len(Chart(tuple(steps)).lanes) > MOST_LANES:
        raise Refused(
            f"More than {MOST_LANES} lanes don't fit on a page. Give some parties one name."
        )
    row: LaneChart
    row, _ = LaneChart.objects.get_or_create(team=session.team, session=session)
    row.save_version(expected_version)
    row.steps.all().delete()
    LaneStep.objects.bulk_create(
        LaneStep(team=session.team, chart=row, position=position, **vars(step))
        for position, step in enumerate(steps, start=1)
    )
    return row
