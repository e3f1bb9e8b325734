"""Deliverables: what is owed, its page, sent and waived, its file."""

from __future__ import annotations

from copy import copy
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models.functions import Coalesce
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.teams.models import Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.deliverable_forms import (
    DeliverableForm,
    PromiseByHandForm,
    SentForm,
    UploadForm,
    WaiveForm,
)
from sessions.deliverables import change, mark_sent, owe_again, promise_by_hand, waive
from sessions.files import kind_by_name, put_file, remove_file
from sessions.models import Deliverable, DiscoverySession

from .acts import act, act_page, who_did_it
from .keyset import page_before


def _deliverable(request: TeamRequest, pk: int) -> Deliverable:
    rows = Deliverable.objects.with_names().select_related("team", "marked_by__user")
    return fetch(rows, request.team, pk=pk)


def _url(request: TeamRequest, found: Deliverable) -> str:
    return reverse("deliverable", args=[request.team.slug, found.pk])


def _about(request: TeamRequest, found: Deliverable) -> dict[str, Any]:
    return {
        "here": "sessions",
        # a form writes what was typed into its row; the page shows what is stored
        "deliverable": copy(found),
        "today": request.team.today(moment.now()),
        "about": found.lead.organisation,
    }


@door()
@require_safe
def deliverables(request: TeamRequest) -> HttpResponse:
    """List what is owed by due day: late, due, ahead; then what was sent or waived."""
    today = request.team.today(moment.now())
    rows = Deliverable.objects.for_team(request.team).with_names()
    owed = list(rows.owed().order_by("due_on", "pk"))
    closed = rows.annotate(closed_on=Coalesce("sent_on", "waived_on")).exclude(closed_on=None)
    return render(
        request,
        "sessions/deliverables.html",
        {
            "here": "sessions",
            "today": today,
            "late": [d for d in owed if d.due_on < today],
            "due": [d for d in owed if d.due_on == today],
            "ahead": [d for d in owed if d.due_on > today],
            "closed": page_before(closed, "closed_on", request.GET.get("before", "")),
            "paged": "before" in request.GET,
        },
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def deliverable_new(request: TeamRequest, pk: int) -> HttpResponse:
    """Promise something for a session that its format does not promise."""
    session = fetch(DiscoverySession.objects.with_names(), request.team, pk=pk)
    now = moment.now()

    def work(form: PromiseByHandForm) -> str:
        data = form.cleaned_data
        promise_by_hand(
            session=session,
            member=request.member,
            now=now,
            title=data["title"],
            due_on=data["due_on"],
            owner=data["owner"],
        )
        return reverse("session", args=[request.team.slug, session.pk])

    first = {"due_on": request.team.calendar().add(request.team.today(now), 3)}
    return new_page(
        request,
        form=PromiseByHandForm(
            request.POST or None,
            team=request.team,
            initial={"owner": request.member.pk, **first},
        ),
        now=now,
        work=work,
        done="Promised.",
        heading="Promise something more",
        button="Promise it",
        about=f"{session.lead.organisation}: {session}",
        back=reverse("session", args=[request.team.slug, session.pk]),
        here="sessions",
    )


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def deliverable(request: TeamRequest, pk: int) -> HttpResponse:
    """Show a deliverable; who writes may change title, due day, owner and link."""
    found = _deliverable(request, pk)
    now = moment.now()

    def work(form: DeliverableForm, version: int) -> None:
        data = form.cleaned_data
        change(
            deliverable=found,
            now=now,
            title=data["title"],
            due_on=data["due_on"],
            owner=data["owner"],
            link=data["link"],
            expected_version=version,
        )

    return edit_page(
        request,
        form=DeliverableForm(request.POST or None, instance=found),
        work=work,
        done="The deliverable is saved.",
        url=_url(request, found),
        template="sessions/deliverable.html",
        upload=UploadForm(initial={"replaces": found.file.name or ""}),
        **_about(request, found),
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def deliverable_sent(request: TeamRequest, pk: int) -> HttpResponse:
    """Note on which day, and to whom, a deliverable was sent."""
    found = _deliverable(request, pk)
    now = moment.now()

    def work(form: SentForm) -> str:
        row = mark_sent(deliverable=found, member=request.member, now=now, **form.cleaned_data)
        return who_did_it(request, row, "sent", now)

    posted = request.POST if request.method == "POST" else None
    return act_page(
        request,
        form=SentForm(posted, initial=_first_guess(found, request.team.today(now))),
        work=work,
        url=_url(request, found),
        heading=f"Mark {found} sent",
        button="It was sent",
        **_about(request, found),
    )


def _first_guess(found: Deliverable, today: date) -> dict[str, Any]:
    """Return today, and the addresses of those who took part."""
    if found.session_id is None:
        return {"sent_on": today}
    session = DiscoverySession(pk=found.session_id)
    people = session.attendees.exclude(email="").order_by("name", "pk")
    addresses = ", ".join(people.values_list("email", flat=True))
    return {"sent_on": today, "sent_to": addresses[:300]}


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def deliverable_waive(request: TeamRequest, pk: int) -> HttpResponse:
    """Say why a deliverable will not be sent."""
    found = _deliverable(request, pk)
    now = moment.now()

    def work(form: WaiveForm) -> str:
        reason = form.cleaned_data["reason"]
        row = waive(deliverable=found, member=request.member, now=now, reason=reason)
        return who_did_it(request, row, "waived", now)

    return act_page(
        request,
        form=WaiveForm(request.POST if request.method == "POST" else None),
        work=work,
        url=_url(request, found),
        heading=f"Waive {found}",
        lede="It stays in the record, and nobody is reminded of it any more.",
        button="Waive it",
        **_about(request, found),
    )


@door(needs=Role.MEMBER)
@require_POST
def deliverable_owe(request: TeamRequest, pk: int) -> HttpResponse:
    """Undo sent or waived."""
    found = _deliverable(request, pk)

    def work() -> str:
        owe_again(deliverable=found, member=request.member, now=moment.now())
        return f"{found} is owed again."

    return act(request, work=work, url=_url(request, found))


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def deliverable_file(request: TeamRequest, pk: int) -> HttpResponseBase:
    """Hand out a deliverable's file; take in another one by POST."""
    found = _deliverable(request, pk)
    return _take_in(request, found) if request.method == "POST" else _hand_out(found)


def _hand_out(found: Deliverable) -> HttpResponseBase:
    if not found.file:
        raise Http404
    try:
        content = found.file.open("rb")
    except FileNotFoundError as missing:
        raise Http404 from missing
    name = found.file_name or found.title
    kind = kind_by_name(name)
    response = FileResponse(
        content,
        as_attachment=True,
        filename=name,
        content_type=kind.content_type if kind else "application/octet-stream",
    )
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cache-Control"] = "private, no-store"
    return response


def _take_in(request: TeamRequest, found: Deliverable) -> HttpResponse:
    now, url = moment.now(), _url(request, found)
    replaces = request.POST.get("replaces", "")
    if "remove" in request.POST:

        def work() -> str:
            remove_file(deliverable=found, member=request.member, now=now, replaces=replaces)
            return "The file is removed."

        return act(request, work=work, url=url)
    upload = UploadForm(request.POST, request.FILES)
    if upload.is_valid():
        try:
            row = put_file(
                deliverable=found,
                member=request.member,
                now=now,
                upload=upload.cleaned_data["upload"],
                replaces=upload.cleaned_data["replaces"],
            )
        except Refused as refused:
            upload.add_error(refused.field, str(refused))
            found.refresh_from_db(fields=["file", "file_name"])
            _see(upload, found)
        else:
            messages.success(request, f"{row.file_name} is kept here.")
            return redirect(url)
    return render(
        request,
        "sessions/deliverable.html",
        {
            "form": DeliverableForm(instance=found),
            "upload": upload,
            "back": url,
            **_about(request, found),
        },
        status=422,
    )


def _see(upload: forms.Form, found: Deliverable) -> None:
    """Let the file that is shown now be the one that the next upload replaces."""
    upload.data = {"replaces": found.file.name or ""}
