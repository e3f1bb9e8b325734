"""Whether letters may go to somebody: that they agreed, asked for no more, or agreed again."""

from __future__ import annotations

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.followups.consents import (
    agreed_to_letters,
    letters_again,
    no_more_letters,
    withdraw,
)
from pipeline.followups.letter_forms import AgreedForm, ConsentForm, WithdrawnForm
from pipeline.followups.models import Consent
from pipeline.leads.models import Contact
from pipeline.mail.models import StoppedAddress
from pipeline.mail.stopped import asked_for_no_more
from pipeline.teams.forms import OnceForm
from pipeline.teams.models import Role
from pipeline.teams.pages import new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def contact_no_letters(request: TeamRequest, pk: int) -> HttpResponse:
    """Note that a person asked for no more letters."""
    now, contact = moment.now(), _contact(request, pk)
    url = reverse("lead", args=[request.team.slug, contact.lead_id])

    def work(form: OnceForm) -> str:
        no_more_letters(contact=contact, member=request.member, now=now)
        return url

    return new_page(
        request,
        form=OnceForm(request.POST if request.method == "POST" else None),
        now=now,
        work=work,
        done=f"Noted: no more letters go to {contact}.",
        here="leads",
        heading=f"Did {contact} ask for no more letters?",
        about=contact.lead,
        lede="Then nobody of the team writes to this address from here again, whoever has it: no "
        "letters, takeaways, times or invitations. To take it back takes their word.",
        back=url,
        button="Yes, write no more",
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def contact_letters_again(request: TeamRequest, pk: int) -> HttpResponse:
    """Note on which day, and how, a person agreed to letters again."""
    now, contact = moment.now(), _contact(request, pk)
    url = reverse("lead", args=[request.team.slug, contact.lead_id])
    stopped = StoppedAddress.objects.of(request.team, [contact.email])
    said = [asked_for_no_more(contact, request.team, at) for at in stopped.values()]

    def work(form: ConsentForm) -> str:
        letters_again(
            contact=contact,
            member=request.member,
            now=now,
            day=form.cleaned_data["day"],
            words=form.cleaned_data["words"],
        )
        return url

    return new_page(
        request,
        form=ConsentForm(
            request.POST if request.method == "POST" else None,
            initial={"day": request.team.today(now)},
        ),
        now=now,
        work=work,
        done=f"Letters may go to {contact} again. Day and words are kept.",
        here="leads",
        heading="Letters may go to them again",
        about=contact.lead,
        lede=said[0] if said else f"{contact} has not asked for no more letters.",
        back=url,
        button="They agreed",
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def contact_agreed(request: TeamRequest, pk: int) -> HttpResponse:
    """Note on which day, how, and to which wording a person agreed to letters."""
    now, contact = moment.now(), _contact(request, pk)
    url = reverse("lead", args=[request.team.slug, contact.lead_id])

    def work(form: AgreedForm) -> str:
        agreed_to_letters(
            contact=contact,
            member=request.member,
            now=now,
            day=form.cleaned_data["day"],
            how=form.cleaned_data["how"],
            words=form.cleaned_data["words"],
        )
        return url

    return new_page(
        request,
        form=AgreedForm(
            request.POST if request.method == "POST" else None,
            initial={"day": request.team.today(now)},
        ),
        now=now,
        work=work,
        done=f"Noted: {contact} agreed to letters.",
        here="leads",
        heading=f"{contact} agreed to letters",
        about=contact.lead,
        lede="Whether you need it, and in which words, local law decides.",
        back=url,
        button="Note it",
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def consent_withdrawn(request: TeamRequest, pk: int) -> HttpResponse:
    """Note on which day somebody took an agreement back."""
    now = moment.now()
    row = fetch(Consent.objects.select_related("lead", "contact"), request.team, pk=pk)
    url = reverse("lead", args=[request.team.slug, row.lead_id])

    def work(form: WithdrawnForm) -> str:
        withdraw(consent=row, now=now, day=form.cleaned_data["day"])
        return url

    return new_page(
        request,
        form=WithdrawnForm(
            request.POST if request.method == "POST" else None,
            initial={"day": request.team.today(now)},
        ),
        now=now,
        work=work,
        done="Noted that they took it back.",
        here="leads",
        heading="They took it back",
        about=row.lead,
        lede=f"{row}: “{row.said}” This alone stops no letter; for that note on the lead’s page "
        "that they want no more.",
        back=url,
        button="Note it",
    )


def _contact(request: TeamRequest, pk: int) -> Contact:
    return fetch(Contact.objects.select_related("lead"), request.team, pk=pk)
