"""Write to somebody at a lead: draft, read over, send."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.followups import lead_letters
from pipeline.followups.consents import agreement_of
from pipeline.followups.drafting import draft_for
from pipeline.followups.letter_forms import LetterForm, NewLetterForm, SendLetterForm, reachable
from pipeline.followups.models import FollowUp, FollowUpState, LeadLetter
from pipeline.leads.models import Contact, Lead
from pipeline.mail.message import message_of
from pipeline.mail.models import Letter, StoppedAddress
from pipeline.mail.stopped import asked_for_no_more
from pipeline.teams.forms import OnceForm
from pipeline.teams.models import Member, Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch

PAGE = "followups/lead_letter.html"
# What a reader of letters shows above the text.
HEADERS = ("From", "Reply-To", "To", "Subject")


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def lead_letter_new(request: TeamRequest, pk: int) -> HttpResponse:
    """Choose somebody at the lead, then draft a letter to them."""
    now = moment.now()
    lead = fetch(Lead.objects.present(), request.team, pk=pk)
    lead.team = request.team
    people = list(reachable(lead))
    stopped = StoppedAddress.objects.of(request.team, [one.email for one in people])
    follow_up = _named(lead.follow_ups.select_related("team"), request.GET.get("follow_up"))
    open_to = [one for one in people if one.email not in stopped]
    chosen = _named(reachable(lead), request.GET.get("contact"))
    if chosen is None and len(open_to) == 1:
        chosen = open_to[0]
    if request.method != "POST" and (chosen is None or chosen.email in stopped):
        said = [
            asked_for_no_more(one, request.team, stopped[one.email])
            for one in people
            if one.email in stopped
        ]
        context = {"lead": lead, "follow_up": follow_up, "open_to": open_to, "stopped": said}
        return render(request, "followups/write_to.html", {"here": "leads", **context})

    def work(form: NewLetterForm) -> str:
        data = form.cleaned_data
        row = lead_letters.draft(
            lead=lead,
            member=request.member,
            now=now,
            contact=data["contact"],
            subject=data["subject"],
            text=data["text"],
            follow_up=data["follow_up"],
        )
        return row.get_absolute_url()

    return new_page(
        request,
        form=NewLetterForm(
            request.POST if request.method == "POST" else None,
            lead=lead,
            initial=_initial(request.member, lead, chosen, follow_up),
        ),
        now=now,
        work=work,
        done="The draft is saved. Nothing was sent yet.",
        here="leads",
        heading="Write a letter",
        about=lead,
        lede="It goes out in your name when you have read it as it will arrive; never by itself.",
        back=follow_up.get_absolute_url() if follow_up else lead.get_absolute_url(),
        button="Save the draft, and see it as it will arrive",
    )


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def lead_letter(request: TeamRequest, pk: int) -> HttpResponse:
    """Show a letter: a draft as it will arrive, to be changed; a sent one as it went out."""
    row = _letter(request, pk)
    if request.method != "POST":
        form = None
        if row.sent_at is None and request.member.writes:
            form = LetterForm(instance=row)
        return render(request, PAGE, {"form": form, **_shown(request, row)})

    def work(form: LetterForm, version: int) -> None:
        lead_letters.change(letter=form.instance, member=request.member, expected_version=version)

    return edit_page(
        request,
        form=LetterForm(request.POST, instance=row),
        work=work,
        done="The draft is saved. Nothing was sent yet.",
        url=row.get_absolute_url(),
        template=PAGE,
        **_shown(request, _letter(request, pk)),
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def lead_letter_send(request: TeamRequest, pk: int) -> HttpResponse:
    """Ask once, then send: no letter can be called back."""
    now, row = moment.now(), _letter(request, pk)
    if row.sent_at is not None and request.method != "POST":
        return redirect("lead-letter", request.team.slug, pk)
    follow_up = row.follow_up
    if follow_up is not None and follow_up.state != FollowUpState.OPEN:
        follow_up = None

    def work(form: SendLetterForm) -> str:
        lead_letters.send(
            letter=row,
            member=request.member,
            now=now,
            expected_version=form.cleaned_data["version"],
            done=form.cleaned_data.get("done", False),
        )
        return row.get_absolute_url()

    return new_page(
        request,
        form=SendLetterForm(
            request.POST if request.method == "POST" else None,
            follow_up=follow_up,
            initial={"version": row.version, "done": True},
        ),
        now=now,
        work=work,
        done="The letter is on its way.",
        here="leads",
        heading="Send this letter?",
        about=row.lead,
        lede=f"“{row}” goes to {row.contact or 'nobody yet'} in your name, {request.member}. "
        "A letter that was sent can't be called back.",
        warnings=[] if row.sent_at else lead_letters.obstacles(row),
        back=row.get_absolute_url(),
        button="Send it now",
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def lead_letter_remove(request: TeamRequest, pk: int) -> HttpResponse:
    """Ask, then throw a draft away; clicked twice, it is thrown away once."""
    form = OnceForm(request.POST if request.method == "POST" else None)
    row = LeadLetter.objects.with_names().for_team(request.team).filter(pk=pk).first()
    if row is None and not form.is_valid():
        raise Http404
    if row is not None and row.sent_at is not None and request.method != "POST":
        return redirect("lead-letter", request.team.slug, pk)

    def work(form: OnceForm) -> str:
        # reached without a row only by a form that was never received
        if row is None:
            raise Http404
        lead_letters.remove(letter=row)
        return reverse("lead", args=[request.team.slug, row.lead_id])

    return new_page(
        request,
        form=form,
        now=moment.now(),
        work=work,
        done="The draft is thrown away.",
        here="leads",
        heading="Throw this draft away?",
        about=row and row.lead,
        lede=f"“{row}”. What was typed is gone then." if row else "",
        back=reverse("lead-letter", args=[request.team.slug, pk]),
        button="Throw it away",
    )


def _letter(request: TeamRequest, pk: int) -> LeadLetter:
    row = fetch(LeadLetter.objects.with_names(), request.team, pk=pk)
    row.team = row.lead.team = request.team
    return row


def _shown(request: TeamRequest, row: LeadLetter) -> dict[str, Any]:
    """Return what a letter's page shows beside the form that changes a draft."""
    member = request.member
    shown: dict[str, Any] = {"here": "leads", "row": row}
    letter = row.letter
    if row.sent_at is None:
        letter = Letter(**lead_letters.as_letter(row, member, moment.now()))
        shown["obstacles"] = lead_letters.obstacles(row)
    else:
        shown["delivery"] = lead_letters.delivery(letter, request.team)
        # the letter itself is the sender's and the owner's to read
        shown["kept"] = letter and (member.may(Role.OWNER) or letter.by_id == member.pk)
    if row.contact is not None:
        row.contact.team = request.team
        shown["agreed"] = agreement_of(row.contact)
    if letter is not None and letter.to:
        letter.team = request.team
        message = message_of(letter)
        shown["headers"] = [(name, message[name]) for name in HEADERS if message[name]]
    return shown | {"text": letter.text if letter is not None else row.text}


def _initial(
    member: Member, lead: Lead, contact: Contact | None, follow_up: FollowUp | None
) -> dict[str, Any]:
    if contact is None:
        return {}
    guess = draft_for(lead=lead, contact=contact, member=member, follow_up=follow_up)
    return {
        "contact": contact.pk,
        "subject": guess.subject,
        "text": guess.text,
        "follow_up": follow_up and follow_up.pk,
    }


def _named(rows: Any, pk: str | None) -> Any:
    """Return the row that an address names; ``None`` for none."""
    return rows.filter(pk=pk).first() if pk and pk.isdecimal() else None
