"""Everything that goes into one takeaway, read from the rows once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pipeline.teams.models import Team
from sessions.models import (
    DiscoverySession,
    LaneStep,
    Note,
    Statement,
    Theme,
    WriteUp,
)

from .chart import Chart, StepDraft

BESIDES = "Also said"


@dataclass(frozen=True)
class Group:
    """A theme with its notes."""

    title: str
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class Ranked:
    """A prompt with its statements, most votes first."""

    prompt: str
    statements: tuple[Statement, ...]

    @property
    def votes(self) -> int:
        """All votes under this prompt."""
        return sum(statement.votes for statement in self.statements)

    @property
    def most(self) -> int:
        """The votes of the first statement."""
        return self.statements[0].votes


@dataclass(frozen=True)
class Harvest:
    """What was caught and written down of one session."""

    session: DiscoverySession
    write_up: WriteUp
    groups: tuple[Group, ...]
    prompts: tuple[Ranked, ...]
    opportunities: tuple[str, ...]
    chart: Chart

    @property
    def team(self) -> Team:
        """Whose session it was."""
        return self.session.team

    @property
    def next_steps(self) -> list[str]:
        """What was agreed, one a line."""
        return lines(self.write_up.next_steps)

    @property
    def lacking(self) -> list[str]:
        """What a takeaway should say and this one does not yet."""
        there = {
            "the challenge in one sentence": self.write_up.challenge,
            "notes": self.groups,
            "statements": self.prompts,
            "the lane chart": self.chart.steps,
            "next steps": self.next_steps,
        }
        return [name for name, found in there.items() if not found]


def lines(text: str) -> list[str]:
    """Return what stands on the lines of a text, without the blank ones."""
    return [line.strip() for line in text.splitlines() if line.strip()]


def harvest(session: DiscoverySession) -> Harvest:
    """Read what was caught in ``session``, a row with team, lead and format at hand."""
    notes = list(Note.objects.kept().filter(session=session))
    write_up = WriteUp.objects.filter(session=session).first() or WriteUp(
        team=session.team, session=session
    )
    asked = [note.opportunity for note in notes if note.opportunity]
    return Harvest(
        session=session,
        write_up=write_up,
        groups=tuple(_groups(session, notes)),
        prompts=tuple(_ranked(Statement.objects.ranked().filter(session=session))),
        opportunities=(*asked, *lines(write_up.opportunities)),
        chart=chart_of(session),
    )


def chart_of(session: DiscoverySession) -> Chart:
    """Read the session's lane chart; one without steps where none was drawn."""
    rows = LaneStep.objects.filter(chart__session=session)
    return Chart(tuple(StepDraft(r.lane, r.text, r.handed_over, r.look_next, r.why) for r in rows))


def _groups(session: DiscoverySession, notes: list[Note]) -> Iterable[Group]:
    """Themes in their order; what is under none, or under one that was let go, comes last."""
    themes = list(Theme.objects.kept().filter(session=session))
    under: dict[int | None, list[Note]] = {theme.pk: [] for theme in themes}
    besides: list[Note] = []
    for note in notes:
        under.get(note.theme_id, besides).append(note)
    for theme in themes:
        if under[theme.pk]:
            yield Group(theme.title, tuple(under[theme.pk]))
    if besides:
        yield Group(BESIDES if themes else "What was said", tuple(besides))


def _ranked(statements: Iterable[Statement]) -> Iterable[Ranked]:
    """Prompts in the order of the agenda."""
    by_step: dict[tuple[int, int], list[Statement]] = {}
    for statement in statements.select_related("step"):  # type: ignore[attr-defined]
        by_step.setdefault((statement.step.position, statement.step_id), []).append(statement)
    for _, found in sorted(by_step.items()):
        yield Ranked(found[0].step.prompt or found[0].step.title, tuple(found))
