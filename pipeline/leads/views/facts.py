"""Pages of a lead's facts and people: one way to enter, to correct and to remove each kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404, HttpResponse, HttpResponseBase
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.leads import people, recording
from pipeline.leads.forms import facts as forms
from pipeline.leads.models import Contact, Decision, Funding, Lead, LogEntry, Proposal
from pipeline.teams.forms import OnceForm
from pipeline.teams.models import Member, Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch

View = Callable[..., HttpResponseBase]

GET_AND_POST = ["GET", "HEAD", "POST"]


@dataclass(frozen=True)
class Kind:
    """A kind of fact: its rows, words, forms and services."""

    name: str
    words: str
    rows: Any
    new: type[forms.NewFact]
    form: type[forms.FactForm]
    record: Callable[[Lead, Member, datetime, dict[str, Any]], Any]
    amend: Callable[[Any, int, datetime], Any]
    remove: Callable[[Any, datetime], None]
    warning: str = ""


DECISION = Kind(
    name="decision",
    words="decision",
    rows=Decision.objects,
    new=forms.NewDecision,
    form=forms.DecisionForm,
    record=lambda lead, member, now, fact: recording.record_decision(
        lead=lead, member=member, now=now, **fact
    ),
    amend=lambda row, version, now: recording.amend_decision(
        decision=row, expected_version=version, now=now
    ),
    remove=lambda row, now: recording.remove_decision(decision=row, now=now),
)
PROPOSAL = Kind(
    name="proposal",
    words="proposal",
    rows=Proposal.objects,
    new=forms.NewProposal,
    form=forms.ProposalForm,
    record=lambda lead, member, now, fact: recording.record_proposal(
        lead=lead, member=member, now=now, **fact
    ),
    amend=lambda row, version, now: recording.amend_proposal(
        proposal=row, expected_version=version, now=now
    ),
    remove=lambda row, now: recording.remove_proposal(proposal=row, now=now),
)
FUNDING = Kind(
    name="funding",
    words="funding",
    rows=Funding.objects,
    new=forms.NewFunding,
    form=forms.FundingForm,
    record=lambda lead, member, now, fact: recording.record_funding(
        lead=lead, member=member, now=now, **fact
    ),
    amend=lambda row, version, now: recording.amend_funding(
        funding=row, expected_version=version, now=now
    ),
    remove=lambda row, now: recording.remove_funding(funding=row, now=now),
)
CONVERSATION = Kind(
    name="log",
    words="conversation",
    rows=LogEntry.objects,
    new=forms.NewConversation,
    form=forms.ConversationForm,
    record=lambda lead, member, now, fact: recording.record_conversation(
        lead=lead, member=member, now=now, **fact
    ),
    amend=lambda row, version, now: recording.amend_conversation(
        entry=row, expected_version=version, now=now
    ),
    remove=lambda row, now: recording.remove_conversation(entry=row, now=now),
)
CONTACT = Kind(
    name="contact",
    words="contact",
    rows=Contact.objects,
    new=forms.NewContact,
    form=forms.ContactForm,
    record=lambda lead, member, now, fact: people.add_contact(lead=lead, **fact),
    amend=lambda row, version, now: people.amend_contact(contact=row, expected_version=version),
    remove=lambda row, now: people.remove_contact(contact=row),
    warning="They also leave the lists of those who came to a session.",
)


def page_of(lead: Lead, request: TeamRequest) -> str:
    """Return the address of the lead's page."""
    return reverse("lead", args=[request.team.slug, lead.pk])


def new(kind: Kind) -> View:
    """Return the page that enters a fact of this kind."""

    @door(needs=Role.MEMBER)
    @require_http_methods(GET_AND_POST)
    def new_fact(request: TeamRequest, pk: int) -> HttpResponse:
        now = moment.now()
        # what was typed for a lead that was merged away belongs to the one that was kept
        lead = fetch(Lead.objects.all(), request.team, pk=pk).kept()
        today = request.team.today(now)
        initial = {
            "day": today,
            "sent_on": today,
            "arrived_on": today,
            "currency": request.team.currency,
            "kind": request.GET.get("kind"),
        }

        def work(form: forms.NewFact) -> str:
            kind.record(lead, request.member, now, form.fact())
            return page_of(lead, request)

        return new_page(
            request,
            form=kind.new(request.POST if request.method == "POST" else None, initial=initial),
            now=now,
            work=work,
            done=f"The {kind.words} is recorded.",
            here="leads",
            heading=f"Record a {kind.words}" if kind is not FUNDING else "Record funding",
            about=lead,
            back=page_of(lead, request),
        )

    return new_fact


def edit(kind: Kind) -> View:
    """Return the page that corrects a fact of this kind."""

    @door(needs=Role.MEMBER)
    @require_http_methods(GET_AND_POST)
    def edit_fact(request: TeamRequest, pk: int) -> HttpResponse:
        row = fetch(kind.rows.select_related("lead"), request.team, pk=pk)

        def work(form: forms.FactForm, version: int) -> None:
            kind.amend(form.instance, version, moment.now())

        return edit_page(
            request,
            form=kind.form(request.POST if request.method == "POST" else None, instance=row),
            work=work,
            done=f"The {kind.words} is saved.",
            url=page_of(row.lead, request),
            template="leads/fact.html",
            here="leads",
            heading=f"Correct the {kind.words}",
            about=row.lead,
            remove=reverse(f"{kind.name}-remove", args=[request.team.slug, pk]),
        )

    return edit_fact


def remove(kind: Kind) -> View:
    """Return the page that removes a fact of this kind; clicked twice, it removes once."""

    @door(needs=Role.MEMBER)
    @require_http_methods(GET_AND_POST)
    def remove_fact(request: TeamRequest, pk: int) -> HttpResponse:
        now = moment.now()
        row = kind.rows.for_team(request.team).filter(pk=pk).select_related("lead").first()
        form = OnceForm(request.POST if request.method == "POST" else None)
        if row is None and not form.is_valid():
            raise Http404

        def work(form: OnceForm) -> str:
            # reached without a row only by a form that was never received
            if row is None:
                raise Http404
            kind.remove(row, now)
            return page_of(row.lead, request)

        return new_page(
            request,
            form=form,
            now=now,
            work=work,
            done=f"The {kind.words} is removed. For 30 days it can be put back, under Removed.",
            here="leads",
            heading=f"Remove the {kind.words}?",
            lede=f"{row}. {kind.warning}" if row else "",
            button="Remove it",
            about=row and row.lead,
            back=page_of(row.lead, request) if row else "",
        )

    return remove_fact
