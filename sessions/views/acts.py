"""One shape for a button that changes a state: doing it twice changes nothing and says so."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, Protocol, TypeVar

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from pipeline.teams.models import Member
from pipeline.teams.refused import Refused
from pipeline.teams.templatetags.show import moment as shown
from pipeline.teams.tenancy import TeamRequest


class Marked(Protocol):
    """A row that knows who marked it, and when."""

    marked_at: datetime | None
    marked_by: Member | None


F = TypeVar("F", bound=forms.Form)


def who_did_it(request: TeamRequest, row: Marked, what: str, now: datetime) -> str:
    """Return that ``what`` was done, or by whom it had been done before this request."""
    if row.marked_at == now and row.marked_by == request.member:
        return f"Marked {what}."
    by = f" by {row.marked_by}" if row.marked_by else ""
    at = f", {shown(row.marked_at, request.team.timezone)}" if row.marked_at else ""
    return f"It was already marked {what}{by}{at}. Nothing was changed."


def act_page(
    request: TeamRequest,
    *,
    form: F,
    work: Callable[[F], str],
    url: str,
    **context: Any,
) -> HttpResponse:
    """Show ``form``, or do its ``work``, say what that returns, and go to ``url``."""
    if request.method == "POST" and form.is_valid():
        try:
            said = work(form)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            messages.success(request, said)
            return redirect(url)
    status = 422 if form.is_bound else 200
    return render(
        request, "teams/form_page.html", {"form": form, "back": url, **context}, status=status
    )


def act(request: TeamRequest, *, work: Callable[[], str], url: str) -> HttpResponse:
    """Do the ``work`` of a button that asks nothing more, say what came of it, go to ``url``."""
    try:
        messages.success(request, work())
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect(url)
