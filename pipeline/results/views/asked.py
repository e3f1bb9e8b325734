"""What an address asks for: a day, and which leads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.http import QueryDict

from pipeline.clock import moment
from pipeline.results.cohort import Cohort
from pipeline.results.forms import FilterForm
from pipeline.teams.tenancy import TeamRequest


@dataclass(frozen=True)
class Question:
    """The form as it was filled in, and the leads it means; `None` where it can't be read."""

    form: FilterForm
    asked: QueryDict
    cohort: Cohort | None
    today: date

    @property
    def ahead(self) -> bool:
        """Whether the day is still to come."""
        return self.cohort is not None and self.cohort.as_of > self.today

    @property
    def carried(self) -> str:
        """The address's parameters that every page of results understands."""
        fields = [
            (name, value)
            for name in self.form.fields
            for value in self.asked.getlist(name)
            if value
        ]
        return f"?{urlencode(fields)}" if fields else ""


def question(request: TeamRequest) -> Question:
    """Read the address; an empty one means every lead, as of today."""
    today = request.team.today(moment.now())
    form = FilterForm(request.GET, team=request.team, member=request.member)
    if not form.is_valid():
        return Question(form, request.GET, None, today)
    cohort = Cohort(request.team, form.cleaned_data["as_of"] or today, form.filters())
    return Question(form, request.GET, cohort, today)
