"""A format as it is written down, apart from its row: what is edited, copied and compared."""

from __future__ import annotations

from dataclasses import dataclass

from sessions.agenda import Agenda, agenda_of
from sessions.models import Catch, Format, Way


@dataclass(frozen=True)
class StepDraft:
    """One step of a draft."""

    title: str
    minutes: int
    way: str = Way.TALK
    say: str = ""
    catches: str = Catch.NOTHING
    prompt: str = ""


@dataclass(frozen=True)
class PromiseDraft:
    """One promised deliverable of a draft."""

    title: str
    working_days: int


@dataclass(frozen=True)
class Draft:
    """A whole format: two drafts that say the same are equal."""

    name: str
    minutes: int
    purpose: str = ""
    steps: tuple[StepDraft, ...] = ()
    promises: tuple[PromiseDraft, ...] = ()

    @property
    def agenda(self) -> Agenda:
        """The arithmetic of the draft's steps."""
        return agenda_of(self.minutes, [(step.way, step.minutes) for step in self.steps])


def draft_of(format: Format) -> Draft:
    """Return a stored format as a draft, from its steps and promises at hand."""
    return Draft(
        name=format.name,
        minutes=format.minutes,
        purpose=format.purpose,
        steps=tuple(
            StepDraft(s.title, s.minutes, s.way, s.say, s.catches, s.prompt)
            for s in format.steps.all()
        ),
        promises=tuple(
            sorted(
                (PromiseDraft(p.title, p.working_days) for p in format.promises.all()),
                key=lambda promise: (promise.working_days, promise.title),
            )
        ),
    )


def pasted(lines: str) -> list[dict[str, str]]:
    """Return one step a line of ``title; minutes; way of working``, as it would be typed.

    What a line does not say is left blank, and what it says wrongly is kept for the form to name.
    """
    found = []
    for line in lines.splitlines():
        title, *rest = (part.strip() for part in line.replace("\t", ";").split(";"))
        minutes, way, *_ = [*rest, "", ""]
        if title or minutes:
            found.append({"title": title, "minutes": minutes, "way": way.lower() or Way.TALK})
    return found
