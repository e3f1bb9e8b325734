"""What follows from an enquiry: an agreement that is kept, and what the team is told of it.

All that depends on who wrote happens here, after the answer is given.
"""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.utils.module_loading import import_string

from pipeline.jobs.models import Job
from pipeline.leads.models import Lead, Standing
from pipeline.leads.returning import similar
from pipeline.mail.models import StoppedAddress, Stops
from pipeline.mail.to_member import write_to_member
from pipeline.teams.models import Absence, Member, Team

from .models import Enquiry


def may_be(lead: Lead, team: Team) -> list[Lead]:
    """Return the other leads that one from the page may be, as long as nothing followed."""
    if lead.standing != Standing.ENQUIRY or not lead.enquiries.exists():
        return []
    emails = [contact.email for contact in lead.contacts.all()]
    return similar(team, organisation=lead.organisation, emails=emails, but=lead)


def enquiry_job(job: Job, now: datetime) -> None:
    """Keep what they agreed to, and tell whoever wants notes; nothing of one removed since."""
    rows = Enquiry.objects.for_team(job.team).select_related("lead", "contact")
    row: Enquiry | None = rows.filter(pk=job.about["enquiry"]).first()
    if row is None:
        return
    lead = row.lead.kept()
    lead.team = job.team
    if row.agreed_to and row.contact:
        day = job.team.today(row.received_at)
        keep = import_string(settings.AGREED_WITH)
        keep(contact=row.contact, now=now, day=day, words=row.agreed_to)
    stopped = StoppedAddress.objects.of(job.team, [row.contact.email] if row.contact else [])
    context = {
        "enquiry": row,
        "lead": lead,
        "said": lead.log.filter(recorded_at=row.received_at, recorded_by=None).first(),
        "may_be": may_be(lead, job.team),
        "stopped": bool(stopped),
    }
    away = Absence.objects.away(job.team, job.team.today(now))
    members = Member.objects.for_team(job.team).who_get("notes").with_user()
    for member in members.exclude(pk__in=list(away)):
        member.team = job.team
        write_to_member(
            member,
            stops=Stops.NOTES,
            key=f"enquiry|{row.pk}",
            subject=f"{job.team}: {lead} enquired",
            template="enquiry",
            context=context,
            due_at=now,
        )
