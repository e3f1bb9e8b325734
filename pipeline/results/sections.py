"""The pages on which the results stand, in the order in which they are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.utils.module_loading import import_string

from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.teams.models import Member, Role

# What else was asked for in the address: an order, a page of a list.
Asked = Mapping[str, str]


@dataclass(frozen=True)
class Section:
    """One page: its address's name, what it is called, what it answers, and what builds it."""

    address: str
    name: str
    title: str
    question: str
    # Named, not imported: NumPy takes longer to load than all the rest, and a start that shows
    # no figures goes without it.
    built_by: str
    needs: str = Role.READER
    # Whether it begins with a lead that waits for a budget, and not with a held session.
    about_waiting: bool = False

    @property
    def open(self) -> bool:
        """Whether every member may read it."""
        return self.needs == Role.READER

    def build(self, cohort: Cohort, asked: Asked) -> list[Exhibit]:
        """Return the section's figures."""
        builder: Callable[[Cohort, Asked], list[Exhibit]] = import_string(
            f"pipeline.results.exhibits.{self.built_by}"
        )
        return builder(cohort, asked)


SECTIONS = (
    Section(
        "results",
        "What came of it",
        "Results",
        "What came of the free sessions.",
        "conversion.exhibits",
    ),
    Section(
        "results-formats",
        "Formats and sources",
        "Formats, sources and people",
        "Which sessions lead to work, for whom.",
        "groups.exhibits",
    ),
    Section(
        "results-return",
        "Delayed return",
        "Delayed return",
        "How many of those without a budget come back, and when.",
        "returns.exhibits",
        about_waiting=True,
    ),
    Section(
        "results-waiting",
        "Whom to write to",
        "Whom to write to now",
        "Which of the waiting leads may be worth a letter this quarter.",
        "waiting.exhibits",
        about_waiting=True,
    ),
    Section(
        "results-work",
        "Hours and promises",
        "Hours and promises",
        "Whether the free hours pay, and whether what was promised went out.",
        "work.exhibits",
    ),
    Section(
        "results-forecast",
        "What to expect",
        "What to expect",
        "How many may return soon, and how well such forecasts have held.",
        "forecast.exhibits",
        about_waiting=True,
    ),
    Section(
        "results-crew",
        "Crew",
        "Who ran the session",
        "What came of the sessions that each facilitator ran. Only owners see this page.",
        "crew.exhibits",
        needs=Role.OWNER,
    ),
)
BY_ADDRESS = {section.address: section for section in SECTIONS}


def sections_for(member: Member) -> list[Section]:
    """Return the sections that a member may read."""
    return [section for section in SECTIONS if member.may(section.needs)]
