"""The run: what is pressed, and the real minutes of each step once it ends."""

from __future__ import annotations

from datetime import datetime

from pipeline.teams.refused import Refused
from sessions.models import DiscoverySession, Press, RunEvent, State, Step, StepRun

from .clock import Clock, Pressed, clock_at
from .entries import Entry
from .hand import Hand

MOST_MINUTES = 600


def pressed_in(session: DiscoverySession, steps: list[Step]) -> list[Pressed]:
    """Return what was pressed in ``session``, in order, with steps counted from 0."""
    number = {step.pk: n for n, step in enumerate(steps)}
    events = RunEvent.objects.for_team(session.team).filter(session=session)
    return [Pressed(e.kind, e.at, number.get(e.step_id or 0), e.minutes) for e in events]


def clock_of(session: DiscoverySession, steps: list[Step], now: datetime) -> Clock:
    """Return the clock of ``session`` at ``now``."""
    return clock_at(
        now,
        steps=[step.minutes for step in steps],
        booked=session.minutes,
        presses=pressed_in(session, steps),
    )


def press(hand: Hand, entry: Entry) -> None:
    """Press a button of the run sheet. What changes nothing any more is passed over.

    Who goes on or back says from which step: of two who press at once, one goes on.
    """
    kind = entry.said.get("press", "")
    if kind not in Press:
        raise Refused("The run sheet has no such button.", "press")
    if kind == Press.START and hand.session.state in (State.MISSED, State.CANCELLED):
        raise Refused(f"The session is marked {hand.session.state}; put it back to booked first.")
    step = hand.step(entry.said.get("step", ""))
    number = hand.steps.index(step) if step else None
    minutes = entry.number("minutes", -MOST_MINUTES, MOST_MINUTES) if kind == Press.ADD else 0
    clock = clock_of(hand.session, hand.steps, hand.now)
    at = max(entry.at, clock.pressed_at) if clock.pressed_at else entry.at
    if kind in (Press.NEXT, Press.BACK) and number != clock.step:
        return
    if not clock.allows(kind, number):
        return
    RunEvent.objects.create(
        team=hand.session.team,
        session=hand.session,
        key=entry.key,
        kind=kind,
        at=at,
        by=hand.member,
        step=step if kind == Press.ADD else None,
        minutes=minutes,
        changed=hand.next_change(),
    )
    _keep_minutes(hand, kind)


def _keep_minutes(hand: Hand, kind: str) -> None:
    """Keep the real minutes of each step while the run is over, and only then."""
    if kind not in (Press.START, Press.RESUME, Press.END):
        return
    StepRun.objects.for_team(hand.session.team).filter(session=hand.session).delete()
    if kind == Press.END:
        clock = clock_of(hand.session, hand.steps, hand.now)
        StepRun.objects.bulk_create(
            StepRun(
                team=hand.session.team,
                session=hand.session,
                step=step,
                seconds=round(spent.total_seconds()),
            )
            for step, spent in zip(hand.steps, clock.spent, strict=True)
            # a step that nobody came to took no time, but it was not run either
            if spent
        )
