"""One row of every kind in one team, and every address that leads to a team's rows."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any

from django.conf import settings
from django.core.files.base import ContentFile
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from pipeline.accounts import changing
from pipeline.accounts.inviting import ask, token_of
from pipeline.accounts.links import sign_in_link
from pipeline.accounts.models import Invitation
from pipeline.accounts.resetting import reset_link
from pipeline.accounts.tokens import print_of, seal
from pipeline.enquiries.models import EnquiryPage
from pipeline.exchange.models import Sheet
from pipeline.followups.models import Feed, PlanStep
from pipeline.followups.plans import ensure_plan
from pipeline.history.models import Change
from pipeline.jobs.planning import job_of
from pipeline.leads.merging import merge
from pipeline.mail.models import Letter
from pipeline.mail.stopping import stop_token
from pipeline.teams.membership import join
from pipeline.teams.models import Role, Team
from sessions.models import Batch, BatchItem, SharedTakeaway
from tests.conftest import NOW, Cast
from tests.factories import (
    AbsenceFactory,
    ConsentFactory,
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    ExchangeRateFactory,
    FollowUpFactory,
    FormatFactory,
    FundingFactory,
    LeadFactory,
    LeadLetterFactory,
    LogEntryFactory,
    OfferFactory,
    ProposalFactory,
    SessionFactory,
    SourceFactory,
    StepFactory,
)

# The smallest whole PNG: one dot.
A_PICTURE = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55000000"
    "0a49444154789c635002000024002344a4db9e0000000049454e44ae426082"
)


def one_of_each(cast: Cast) -> dict[str, Any]:
    """Make one row of every kind in the cast's team; return what stands in their addresses."""
    team = cast.team
    lead = LeadFactory(team=team, owner=cast.member, source=SourceFactory(team=team))
    contact = ContactFactory(lead=lead)
    agenda = FormatFactory(team=team)
    StepFactory(format=agenda)
    session = SessionFactory(
        lead=lead, format=agenda, starts_at=datetime(2026, 3, 3, 10, 0, tzinfo=UTC)
    )
    deliverable = DeliverableFactory(lead=lead, session=session, owner=cast.member)
    deliverable.file.save("takeaway.pdf", ContentFile(b"%PDF-1.4"))
    offer = OfferFactory(lead=lead, format=agenda, contact=contact)
    gone = LeadFactory(team=team)
    letter = Letter.objects.create(
        team=team,
        key="a letter",
        member=cast.member,
        to=cast.member.user.email,
        subject="What is due",
        text="Nothing.",
        html="<p>Nothing.</p>",
        calendar="BEGIN:VCALENDAR\r\nMETHOD:PUBLISH\r\nEND:VCALENDAR\r\n",
        due_at=NOW,
    )
    sheet = Sheet.objects.create(
        team=team,
        name="leads.csv",
        content=b"organisation\nAlderwick Dairy\n",
        handed_in_at=NOW,
        handed_in_by=cast.member,
    )
    shared = SharedTakeaway(team=team, session=session, file_name="a.pdf", sent_at=NOW)
    shared.file.save("a.pdf", ContentFile(b"%PDF-1.4"))
    batch = Batch.objects.create(team=team, month=date(2026, 3, 1), asked_at=NOW)
    item = BatchItem(team=team, batch=batch, session=session, file_name="a.pdf", done_at=NOW)
    item.file.save("a.pdf", ContentFile(b"%PDF-1.4"))
    team.logo.save("logo.png", ContentFile(A_PICTURE))
    ensure_plan(team)
    FundingFactory(lead=lead).delete()
    return {
        "change": Change.objects.get(table="leads_funding").pk,
        "changed": f"leads.lead-{lead.pk}",
        "lead": lead.pk,
        "contact": contact.pk,
        "log": LogEntryFactory(lead=lead).pk,
        "decision": DecisionFactory(lead=lead).pk,
        "proposal": ProposalFactory(lead=lead).pk,
        "funding": FundingFactory(lead=lead).pk,
        "merge": merge(kept=lead, gone=gone, member=cast.member, now=NOW).pk,
        "offer": offer.pk,
        "offered time": offer.times.get().pk,
        "format": agenda.pk,
        "session": session.pk,
        "shared": shared.pk,
        "batch": batch.pk,
        "deliverable": deliverable.pk,
        "follow-up": FollowUpFactory(lead=lead, owner=cast.member).pk,
        "plan step": PlanStep.objects.current(team)[0].pk,
        "lead letter": LeadLetterFactory(lead=lead, contact=contact).pk,
        "consent": ConsentFactory(contact=contact).pk,
        "letter": letter.pk,
        "job": job_done(team),
        "sheet": sheet.pk,
        "absence": AbsenceFactory(member=cast.member).pk,
        "rate": ExchangeRateFactory(team=team).pk,
        # who never signed in
        "member": join(team=team, email="nils@harbour.example", role=Role.READER).pk,
        "invitation": ask(
            owner=cast.owner, email="iris@fen.example", name="", role=Role.MEMBER, now=NOW
        ).pk,
    }


def job_done(team: Team) -> int:
    """Make a piece of due work, done."""
    job = job_of(team=team, kind="digest", key="a job", due_at=NOW)
    job.next_attempt_at, job.done_at = None, NOW
    job.save()
    return int(job.pk)


def outside_paths(cast: Cast, rows: dict[str, Any]) -> dict[str, str]:
    """Return every address outside any team by its name, where it can to a row of ours."""
    made_up = {
        str(p.name): reverse(p.name, args=["none"] * len(p.pattern.converters))
        for p in outside_addresses()
        if p.name
    }
    return made_up | _outside(cast, rows)


def _outside(cast: Cast, rows: dict[str, Any]) -> dict[str, str]:
    letter = Letter(team=cast.team, member=cast.member, to=cast.member.user.email, stops="notes")
    shared = SharedTakeaway.objects.get(pk=rows["shared"])
    invitation = Invitation.objects.get(pk=rows["invitation"])
    theirs = {"user": cast.stranger.pk, "print": print_of(cast.stranger), "email": "s@new.example"}
    new_address = seal(changing.KIND, theirs, until=NOW + changing.LASTS)
    feed = Feed.objects.create(team=cast.team, member=cast.member, changed_at=NOW)
    page = EnquiryPage.objects.create(team=cast.team, is_open=True)
    return {
        "None": "/",
        "sign-in-link": sign_in_link(cast.stranger).removeprefix(settings.BASE_URL),
        "join": reverse("join", args=[token_of(invitation)]),
        "reset": reset_link(cast.stranger, now=NOW).removeprefix(settings.BASE_URL),
        "account-address-is-mine": reverse("account-address-is-mine", args=[new_address]),
        "enquire": page.get_absolute_url(),
        "enquiry-sent": reverse("enquiry-sent", args=[cast.team.slug]),
        "stop-letters": reverse("stop-letters", args=[stop_token(letter)]),
        "feed-file": reverse("feed-file", args=[feed.token]),
        "shared": shared.get_absolute_url(),
        "shared-file": reverse("shared-file", args=[shared.token]),
    }


def _leaves(patterns: list[Any]) -> Iterator[URLPattern]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from _leaves(pattern.url_patterns)
        else:
            yield pattern


def _of_a_team(top: URLPattern | URLResolver) -> bool:
    return str(top.pattern) == "t/<slug:slug>/"


def team_addresses() -> Iterator[URLPattern]:
    """Return every address below ``/t/<slug>/``, from the resolver itself."""
    return _leaves([top for top in get_resolver().url_patterns if _of_a_team(top)])


def outside_addresses() -> Iterator[URLPattern]:
    """Return every other address."""
    return _leaves([top for top in get_resolver().url_patterns if not _of_a_team(top)])


def address(name: str, slug: str, row: Any = None) -> str:
    """Return the path of an address, of a row where it has one."""
    return reverse(name, args=[slug] if row is None else [slug, row])
