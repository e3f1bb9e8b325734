"""Formats and their agendas."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.agenda import Agenda, agenda_of
from sessions.agendas.real import planned_against_real
from sessions.models import Format, State, Step


@dataclass(frozen=True)
class LaidOut:
    """An agenda with its steps: each with the minute at which it starts."""

    agenda: Agenda
    steps: list[tuple[int, Step]]


def laid_out(format: Format, booked: int) -> LaidOut:
    """Return the agenda of ``format`` in ``booked`` minutes, from the steps at hand."""
    steps: Iterable[Step] = format.steps.all()
    agenda = agenda_of(booked, [(step.way, step.minutes) for step in steps])
    return LaidOut(agenda, list(zip(agenda.offsets, steps, strict=True)))


USES = {state.name.lower(): Count("sessions", filter=Q(sessions__state=state)) for state in State}


@door()
@require_safe
def formats(request: TeamRequest) -> HttpResponse:
    """List the team's formats."""
    rows = list(Format.objects.for_team(request.team).with_agenda().annotate(**USES))
    return render(
        request,
        "sessions/formats.html",
        {
            "here": "sessions",
            "formats": [(row, laid_out(row, row.minutes).agenda) for row in rows],
        },
    )


@door()
@require_safe
def format(request: TeamRequest, pk: int) -> HttpResponse:
    """Show one format's agenda, its promises and how often it was used."""
    row = fetch(Format.objects.with_agenda().annotate(**USES), request.team, pk=pk)
    return render(
        request,
        "sessions/format.html",
        {
            "here": "sessions",
            "format": row,
            "agenda": laid_out(row, row.minutes),
            "real": planned_against_real(row),
        },
    )
