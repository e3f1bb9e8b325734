"""Somebody about whom a team keeps something of every kind."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

from django.core.files.base import ContentFile

from pipeline.exchange.models import Sheet
from pipeline.followups.consents import agreed_to_letters
from pipeline.followups.lead_letters import draft, send
from pipeline.leads.models import Contact
from pipeline.mail.models import Letter
from pipeline.mail.outbox import write
from sessions.models import CalendarEntry, Note, SharedTakeaway
from tests.conftest import NOW, TODAY, Cast
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    LeadFactory,
    LogEntryFactory,
    OfferFactory,
    SessionFactory,
)

NAME = "Ana Prado"
ADDRESS = "ana@fernwick.example"
COLLEAGUE = "bo@fernwick.example"


def ana_of(cast: Cast) -> Contact:
    """Make Ana, her colleague Bo, and all that the team has of her."""
    team, member = cast.team, cast.member
    lead = LeadFactory(team=team, organisation="Fernwick Library")
    ana = ContactFactory(lead=lead, name=NAME, email=ADDRESS, role="Head", timezone="Asia/Tokyo")
    ContactFactory(lead=lead, name="Bo Lang", email=COLLEAGUE)
    session = SessionFactory(
        lead=lead, state="held", attendee_count=2, starts_at=datetime(2026, 3, 3, 10, tzinfo=UTC)
    )
    session.attendees.add(ana)
    LogEntryFactory(lead=lead, who=f"{NAME} and Bo", gist=f"{NAME} asks her board.")
    DecisionFactory(lead=lead, kind="no budget yet", reason="The board said so to Ana Prado.")
    DeliverableFactory(
        lead=lead, session=session, sent_on=TODAY, sent_to=f"{ADDRESS}, {COLLEAGUE}"
    )
    shared = SharedTakeaway(
        team=team, session=session, file_name="a.pdf", sent_at=NOW, sent_to=ADDRESS
    )
    shared.file.save("a.pdf", ContentFile(b"%PDF-1.4 hers"))
    CalendarEntry.objects.create(
        team=team,
        session=session,
        organizer_email=member.user.email,
        people=[[ADDRESS, NAME], [COLLEAGUE, "Bo Lang"]],
        told_at=NOW,
    )
    OfferFactory(lead=lead, contact=ana, sent_to=ADDRESS)
    Note.objects.create(
        team=team, session=session, key=uuid.uuid4(), at=NOW, text=f"As {NAME} puts it: it leaks."
    )
    agreed_to_letters(
        contact=ana,
        member=member,
        now=NOW,
        day=TODAY,
        how="in writing",
        words="You may write to Ana.",
    )
    row = draft(
        lead=lead, member=member, now=NOW, contact=ana, subject="Hello", text=f"Dear {NAME},"
    )
    send(letter=row, member=member, now=NOW, expected_version=1, done=False)
    write(
        team=team,
        key=f"session|{session.pk}|0|{ADDRESS}",
        to=ADDRESS,
        subject="Invitation",
        text=f"Good day {NAME}",
        calendar=f"METHOD:REQUEST\r\nATTENDEE:mailto:{ADDRESS}\r\n",
        due_at=NOW,
        stops="letters",
    )
    write(
        team=team,
        key=f"session|{session.pk}|0|{member.user.email}",
        to=member.user.email,
        member=member,
        subject="Invitation",
        text="Good day",
        # as a long line is broken in a calendar file
        calendar=f"METHOD:REQUEST\r\nATTENDEE:mailto:{ADDRESS[:6]}\r\n {ADDRESS[6:]}\r\n",
        due_at=NOW,
    )
    Letter.objects.filter(team=team).update(sent_at=NOW, next_attempt_at=None)
    Sheet.objects.create(
        team=team,
        name="leads.csv",
        content=f"organisation,contact_name,contact_email\nFernwick,{NAME},{ADDRESS}\n".encode(),
        handed_in_at=NOW,
    )
    return ana
