"""What a desk shows when its page is opened: the run sheet, and everything caught so far."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from sessions.models import Catch, Desk, DiscoverySession, Note, Press, Statement, Step, Theme

from .clock import Clock, State
from .running import clock_of


@dataclass(frozen=True)
class Heading:
    """A theme with its notes; no theme for the notes that stand under none yet."""

    theme: Theme | None
    notes: list[Note]


@dataclass(frozen=True)
class Prompt:
    """A step that asks for statements, with those given."""

    step: Step
    statements: list[Statement]


@dataclass(frozen=True)
class Board:
    """Everything caught in a session, in order; ``changed`` is the desk's number before."""

    changed: int
    headings: list[Heading]
    prompts: list[Prompt]
    gone: list[tuple[str, Theme | Note | Statement]]

    @property
    def themes(self) -> list[Theme]:
        """The themes that stand."""
        return [heading.theme for heading in self.headings if heading.theme]


def board_of(session: DiscoverySession, steps: list[Step]) -> Board:
    """Return everything caught in ``session``."""
    desks = Desk.objects.for_team(session.team).filter(session=session)
    changed = desks.values_list("changed", flat=True).first() or 0
    of_session = {"team": session.team, "session": session}
    themes = list(Theme.objects.filter(**of_session))
    notes = list(Note.objects.filter(**of_session))
    statements = list(Statement.objects.filter(**of_session))
    kept = [theme for theme in themes if not theme.let_go]
    standing = {theme.pk for theme in kept}
    under: dict[int | None, list[Note]] = defaultdict(list)
    for note in notes:
        if not note.let_go:
            under[note.theme_id if note.theme_id in standing else None].append(note)
    answers: dict[int, list[Statement]] = defaultdict(list)
    for statement in statements:
        if not statement.let_go:
            answers[statement.step_id].append(statement)
    # A merged theme went on into another; only what was let go can be taken back.
    gone: list[tuple[str, Theme | Note | Statement]] = []
    gone += [("theme", row) for row in themes if row.let_go and not row.merged_into_id]
    gone += [("note", row) for row in notes if row.let_go]
    gone += [("statement", row) for row in statements if row.let_go]
    return Board(
        changed,
        [Heading(None, under[None]), *(Heading(theme, under[theme.pk]) for theme in kept)],
        [Prompt(step, answers[step.pk]) for step in steps if asks(step) or step.pk in answers],
        gone,
    )


def asks(step: Step) -> bool:
    """Tell whether a step asks for statements."""
    return bool(step.catches == Catch.STATEMENTS)


@dataclass(frozen=True)
class Line:
    """One step on the run sheet: the minutes it is given, and the time it took so far."""

    step: Step
    given: int
    spent: timedelta
    in_hand: bool


@dataclass(frozen=True)
class RunSheet:
    """The run sheet at one moment."""

    clock: Clock
    lines: list[Line]

    @property
    def in_hand(self) -> Line | None:
        """The step in hand."""
        return self.lines[self.clock.step] if self.lines else None

    @property
    def ahead(self) -> Line | None:
        """The step that comes next."""
        after = self.clock.step + 1
        return self.lines[after] if after < len(self.lines) else None

    @property
    def main_press(self) -> Press:
        """What the first button does."""
        presses = {State.READY: Press.START, State.RUNNING: Press.PAUSE}
        return presses.get(self.clock.state, Press.RESUME)

    @property
    def allowed(self) -> dict[str, bool]:
        """Which of the other buttons would do something."""
        kinds = (Press.ADD, Press.NEXT, Press.BACK, Press.END)
        return {str(kind): self.clock.allows(kind, self.clock.step) for kind in kinds}

    @property
    def shorter(self) -> list[tuple[Step, int]]:
        """The steps to shorten, each by how many minutes."""
        return [(self.lines[number].step, minutes) for number, minutes in self.clock.shorter]


def run_sheet(session: DiscoverySession, steps: list[Step], now: datetime) -> RunSheet:
    """Return the run sheet of ``session`` at ``now``."""
    clock = clock_of(session, steps, now)
    lines = [
        Line(step, clock.given[n], clock.spent[n], n == clock.step) for n, step in enumerate(steps)
    ]
    return RunSheet(clock, lines)
