"""Take in an enquiry: a lead of its own with who wrote, what they wrote, and what they agreed to.

Nothing is looked up about who writes, so that nothing about them can show in the answer. Whether
they are known already the team is told, and merging is its choice.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from pipeline.jobs.planning import plan_job
from pipeline.leads.entry import log_lead
from pipeline.leads.models import Channel
from pipeline.leads.recording import record_conversation
from pipeline.teams.refused import Refused

from .arrivals import count_in
from .models import Enquiry, EnquiryPage

SOURCE = "enquiry form"


@transaction.atomic
def receive(
    *,
    page: EnquiryPage,
    network: str,
    now: datetime,
    organisation: str,
    name: str,
    email: str,
    about: str,
    agreed_to: str,
) -> Enquiry:
    """Store an enquiry as a lead that nobody looks after yet; raise ``TooMany`` beyond the limits.

    ``agreed_to`` are the words by which they agreed to letters, empty where they did not.
    """
    held: EnquiryPage = EnquiryPage.objects.select_for_update().get(pk=page.pk)
    team = page.team
    if not held.is_open:
        raise Refused(
            f"Meanwhile {team} closed this page, so nothing was sent. "
            "Copy what you typed and write to them some other way."
        )
    count_in(team=team, network=network, now=now)
    today = team.today(now)
    lead = log_lead(
        team=team,
        member=None,
        now=now,
        organisation=organisation,
        contact_name=name,
        contact_email=email,
        source=SOURCE,
        enquired_on=today,
    )
    record_conversation(
        lead=lead,
        member=None,
        now=now,
        day=today,
        channel=Channel.MESSAGE,
        who=name,
        gist=about,
    )
    enquiry: Enquiry = Enquiry.objects.create(
        team=team,
        lead=lead,
        contact=lead.contacts.get(),
        received_at=now,
        agreed_to=agreed_to,
    )
    plan_job(
        team=team,
        kind="enquiry",
        key=str(enquiry.pk),
        due_at=now,
        now=now,
        about={"enquiry": enquiry.pk},
    )
    return enquiry
