"""One shape for pages that hold a form: new rows are made once, edits carry a version."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from .forms import OnceForm, VersionedForm, key_of
from .models import Stale, Versioned
from .once import do_once
from .refused import Refused
from .tenancy import TeamRequest

F = TypeVar("F", bound=VersionedForm)
N = TypeVar("N", bound=OnceForm)


def new_page(
    request: TeamRequest,
    *,
    form: N,
    now: datetime,
    work: Callable[[N], str],
    done: str,
    template: str = "teams/form_page.html",
    **context: Any,
) -> HttpResponse:
    """Show ``form``, or do its ``work`` once and go where that says.

    ``work`` gets the valid form, writes, and returns an address; it may raise ``Refused``. A form
    that was posted before, just as it is now, leads to the same address and says so.
    """
    if request.method == "POST" and form.is_valid():
        try:
            url, first = do_once(
                team=request.team,
                key=key_of(form),
                now=now,
                work=lambda: work(form),
            )
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            messages.success(request, done if first else f"Already done, once. {done}")
            return redirect(url)
    status = 422 if form.is_bound else 200
    return render(request, template, {"form": form, **context}, status=status)


def edit_page(
    request: TeamRequest,
    *,
    form: F,
    work: Callable[[F, int], str | None],
    done: str,
    url: str,
    template: str = "teams/form_page.html",
    **context: Any,
) -> HttpResponse:
    """Show ``form``, or do its ``work`` and go to ``url``.

    ``work`` gets the valid form and the version that it was opened with; it saves the form's
    instance by ``save_version`` and may raise ``Stale`` or ``Refused``; it may return what to say
    instead of ``done``. After ``Stale`` the page shows both versions side by side, with what was
    typed still in the form.
    """
    if request.method == "POST" and form.is_valid():
        try:
            said = work(form, form.cleaned_data["version"])
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        except Stale:
            return _conflict(request, form, url, template, {"back": url, **context})
        else:
            messages.success(request, said or done)
            return redirect(url)
    status = 422 if form.is_bound else 200
    return render(request, template, {"form": form, "back": url, **context}, status=status)


def _conflict(
    request: TeamRequest, form: VersionedForm, url: str, template: str, context: dict[str, Any]
) -> HttpResponse:
    current: Versioned | None = form.current()
    if current is None:
        form.add_error(None, "Somebody removed this while you were writing. Yours is still below.")
        return render(request, template, {"form": form, **context}, status=409)
    differences = form.differences(current)
    if not differences and form.compares_wholly():
        # Most likely the second click on one button.
        messages.success(request, "This was saved already, just as you wrote it.")
        return redirect(url)
    form.reopen_on(current)
    return render(
        request, template, {"form": form, "differences": differences, **context}, status=409
    )
