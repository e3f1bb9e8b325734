"""Which people a team no longer needs: of leads of which nothing was heard for so many months."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

from django.db import transaction
from django.db.models import Max

from pipeline.clock.months import add_months
from pipeline.enquiries.models import Enquiry
from pipeline.followups.models import Consent, FollowUp, FollowUpState, LeadLetter
from pipeline.jobs.models import Job
from pipeline.jobs.planning import job_of, plan_jobs
from pipeline.leads.models import Contact, Decision, Funding, LogEntry, Proposal
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from sessions.models import Deliverable, DiscoverySession, Offer, State

from .erasing import erase

KIND = "erase"
# Days of a lead: what was done, and what still lies ahead.
DAYS: tuple[tuple[Any, str], ...] = (
    (LogEntry, "day"),
    (Decision, "day"),
    (Decision, "funding_expected_on"),
    (Proposal, "sent_on"),
    (Funding, "arrived_on"),
    (DiscoverySession, "day"),
    (Deliverable, "due_on"),
    (Deliverable, "sent_on"),
    (Deliverable, "waived_on"),
    (FollowUp, "closed_on"),
    (Consent, "day"),
)
MOMENTS: tuple[tuple[Any, str], ...] = (
    (Enquiry, "received_at"),
    (LeadLetter, "created_at"),
    (LeadLetter, "sent_at"),
    (Offer, "made_at"),
)


@dataclass(frozen=True)
class Lapsed:
    """A person who would be erased, and since when nothing was heard of their lead."""

    contact: Contact
    newest: date


def lapsed(team: Team, now: datetime) -> list[Lapsed]:
    """Return who would be erased at ``now``, the longest quiet first; nobody without a period.

    Nobody of a lead with a session that is booked, a deliverable that is owed, or a follow-up that
    is open; and nobody whose address somebody has who is still needed.
    """
    if team.retention_months is None:
        return []
    before = add_months(team.today(now), -team.retention_months)
    contacts = Contact.objects.for_team(team).filter(erased_at=None).select_related("lead")
    people = list(contacts.order_by("pk"))
    newest, busy = newest_days(team), _busy(team)
    over = {}
    for person in people:
        entered = team.today(person.lead.created_at)
        days = [entered, person.lead.enquired_on, newest.get(person.lead_id)]
        last = max(day for day in days if day is not None)
        if last < before and person.lead_id not in busy:
            over[person.pk] = Lapsed(person, last)
    needed = {person.email.casefold() for person in people if person.pk not in over}
    needed.discard("")
    gone = [one for one in over.values() if one.contact.email.casefold() not in needed]
    return sorted(gone, key=lambda one: (one.newest, one.contact.pk))


def newest_days(team: Team) -> dict[int, date]:
    """Return the newest day of each lead of which one is noted."""
    newest: dict[int, date] = {}
    for model, column in (*DAYS, *MOMENTS):
        rows = model.objects.for_team(team).order_by().values_list("lead")
        for lead, value in rows.annotate(last=Max(column)):
            if value is not None:
                day = team.today(value) if isinstance(value, datetime) else value
                newest[lead] = max(day, newest.get(lead, day))
    return newest


def _busy(team: Team) -> set[int]:
    rows: Iterable[Any] = (
        DiscoverySession.objects.for_team(team).filter(state=State.BOOKED),
        Deliverable.objects.for_team(team).owed(),
        FollowUp.objects.for_team(team).filter(state=FollowUpState.OPEN),
        Offer.objects.for_team(team).open(),
    )
    return {lead for found in rows for lead in found.values_list("lead", flat=True)}


def seen(found: Iterable[Lapsed]) -> str:
    """Return what tells one list of people from another."""
    return sha256(repr([one.contact.pk for one in found]).encode()).hexdigest()


@transaction.atomic
def erase_lapsed(*, team: Team, member: Member, now: datetime, as_seen: str) -> int:
    """Have everybody erased who was on the list that the member saw; returns how many."""
    found = lapsed(team, now)
    if seen(found) != as_seen:
        raise Refused("The list has changed meanwhile. Read it once more, then erase.")
    jobs = [
        job_of(
            team=team,
            kind=KIND,
            key=f"{now.isoformat()}|{one.contact.pk}",
            due_at=now,
            about={"contact": one.contact.pk, "member": member.pk},
        )
        for one in found
    ]
    plan_jobs(jobs, now=now)
    return len(jobs)


def erase_job(job: Job, now: datetime) -> None:
    """Erase one person, unless meanwhile something was heard of their lead."""
    ours = {one.contact.pk: one for one in lapsed(job.team, now)}
    one = ours.get(job.about["contact"])
    if one is not None:
        erase(
            contact=one.contact,
            member=Member.objects.for_team(job.team).filter(pk=job.about["member"]).first(),
            now=now,
            what_for=f"kept for {job.team.retention_months} months; last heard of {one.newest}",
        )


@dataclass(frozen=True)
class Progress:
    """How far the last press of the button has come."""

    done: int
    of: int


def progress(team: Team) -> Progress | None:
    """Return how far the newest erasing has come; ``None`` where there was none lately."""
    jobs = Job.objects.for_team(team).filter(kind=KIND)
    newest = jobs.aggregate(last=Max("due_at"))["last"]
    if newest is None:
        return None
    of = jobs.filter(due_at=newest)
    return Progress(of.exclude(done_at=None).count(), of.count())
