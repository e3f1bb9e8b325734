"""Who ran the session: for owners alone, and never without the caution."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.results.exhibits.groups import compared
from pipeline.results.figures.crew import CAUTION, RULES, crew


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where no lead counts."""
    found = crew(cohort)
    if not found.conversion.groups:
        return []
    first, *others = compared(found.conversion, found.compared)
    first = replace(first, said=(CAUTION, *first.said), rules=(*RULES[:-1], *first.rules))
    return [first, *(replace(other, rules=(*other.rules, CAUTION)) for other in others)]
