"""Plays the invented stories through the same services that people's clicks go through."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from pipeline.clock.months import add_months
from pipeline.clock.zones import at_local
from pipeline.followups.actions import mark_done
from pipeline.followups.models import FollowUp
from pipeline.leads.entry import log_lead
from pipeline.leads.models import Lead
from pipeline.leads.recording import (
    record_conversation,
    record_decision,
    record_funding,
    record_proposal,
)
from pipeline.teams.models import Member, Team
from sessions.booking import book, cancel, mark_missed
from sessions.deliverables import mark_sent, waive
from sessions.holding import hold
from sessions.models import Deliverable, DiscoverySession, Format, Part

from . import names
from .desk import run_at_desk
from .story import Event, Setting, of_lead
from .write_up import write_up_session

# The invented teams have worked with the desk for so long.
AT_DESK = timedelta(days=150)


@dataclass
class Player:
    """Plays leads of one team up to ``now``."""

    team: Team
    members: list[Member]
    formats: dict[str, Format]
    sources: tuple[str, ...]
    now: datetime
    random: Random

    def play(self, organisation: str, enquired_on: date) -> None:
        """Play one lead's story; what lies after ``now`` has not happened yet."""
        setting = Setting(
            calendar=self.team.calendar(),
            timezone=self.team.timezone,
            sources=self.sources,
            formats=tuple(self.formats),
        )
        lead: Lead | None = None
        owner = self.random.choice(self.members)
        for event in of_lead(organisation, enquired_on, setting, self.random):
            if lead is None:
                at = min(event.at, self.now)
                lead = self._enquiry(organisation, owner, replace(event, at=at))
            elif event.at > self.now:
                break
            else:
                self._work_off(lead, event.at)
                getattr(self, f"_{event.what}")(lead, owner, event)
        if lead is not None:
            self._work_off(lead, self.now - timedelta(days=4))

    def _enquiry(self, organisation: str, owner: Member, event: Event) -> Lead:
        (name, email), *others = event.about["people"]
        # Drawn apart, so that the story is the same with and without.
        money = Random(f"{organisation}: money")
        hoped = Decimal(money.randrange(40, 480) * 100)
        budget = money.choice([None, None, Decimal(0), hoped / 2, hoped])
        lead = log_lead(
            team=self.team,
            member=owner,
            now=event.at,
            organisation=organisation,
            contact_name=name,
            contact_email=email,
            source=event.about["source"],
            enquired_on=self.team.today(event.at),
            expected_fee=hoped if money.random() < 0.8 else None,
            budget_at_entry=budget,
        )
        for name, email in others:
            lead.contacts.create(team=self.team, name=name, email=email)
        lead.contacts.update(role=self.random.choice(names.ROLES))
        return lead

    def _talk(self, lead: Lead, owner: Member, event: Event) -> None:
        record_conversation(
            lead=lead,
            member=owner,
            now=event.at,
            day=self.team.today(event.at),
            channel=self.random.choice(names.CHANNELS),
            who=lead.contacts.all()[0].name,
            gist=event.about["gist"],
        )

    def _book(self, lead: Lead, owner: Member, event: Event) -> None:
        others = [member for member in self.members if member != owner]
        crew: dict[str, list[Member]] = {Part.FACILITATOR: [owner]}
        if others:
            crew[Part.NOTE_TAKER] = [self.random.choice(others)]
        format = self.formats[event.about["format"]]
        book(
            lead=lead,
            member=owner,
            now=event.at,
            format=format,
            starts_at=event.about["starts_at"],
            minutes=format.minutes,
            place="https://call.example/" + lead.reference.lower(),
            crew=crew,
            attendees=list(lead.contacts.all()),
        )

    def _booked(self, lead: Lead) -> DiscoverySession:
        session: DiscoverySession = lead.sessions.booked().get()
        return session

    def _missed(self, lead: Lead, owner: Member, event: Event) -> None:
        session = self._booked(lead)
        mark_missed(session=session, member=owner, now=event.at, reason=event.about["reason"])

    def _cancel(self, lead: Lead, owner: Member, event: Event) -> None:
        session = self._booked(lead)
        cancel(session=session, member=owner, now=event.at, reason=event.about["reason"])

    def _hold(self, lead: Lead, owner: Member, event: Event) -> None:
        session = self._booked(lead)
        at_desk = session.day > self.team.today(self.now) - AT_DESK
        # Drawn apart, so that the story is the same with and without.
        apart = Random(f"{lead.organisation}: desk")
        if at_desk:
            run_at_desk(session, owner, apart)
        session = hold(session=session, member=owner, now=event.at, **event.about)
        if at_desk:
            write_up_session(session, owner, event.at, apart)

    def _send(self, lead: Lead, owner: Member, event: Event) -> None:
        owed = list(lead.deliverables.owed())
        for deliverable in owed if event.about["all"] else owed[:1]:
            mark_sent(
                deliverable=deliverable,
                member=owner,
                now=event.at,
                sent_on=self.team.today(event.at),
                sent_to=", ".join(lead.contacts.values_list("email", flat=True)),
            )
        for deliverable in owed[1:] if not event.about["all"] else []:
            self._waive(deliverable, owner, event.at)

    def _waive(self, deliverable: Deliverable, owner: Member, at: datetime) -> None:
        waive(
            deliverable=deliverable, member=owner, now=at, reason="Part of the takeaway already."
        )

    def _proposal(self, lead: Lead, owner: Member, event: Event) -> None:
        record_proposal(
            lead=lead,
            member=owner,
            now=event.at,
            sent_on=self.team.today(event.at),
            fee=Decimal(event.about["fee"]),
            currency=self.team.currency,
        )

    def _decide(self, lead: Lead, owner: Member, event: Event) -> None:
        day, about = self.team.today(event.at), event.about
        details: dict[str, Any] = {"reason": about.get("reason", "")}
        if "fee" in about:
            details |= {"fee": Decimal(about["fee"]), "currency": self.team.currency}
        if "expected_in" in about:
            details["funding_expected_on"] = add_months(day.replace(day=1), about["expected_in"])
            details["funding_from"] = about["funding_from"]
        record_decision(
            lead=lead, member=owner, now=event.at, kind=about["kind"], day=day, **details
        )

    def _funding(self, lead: Lead, owner: Member, event: Event) -> None:
        record_funding(lead=lead, member=owner, now=event.at, arrived_on=self.team.today(event.at))

    def _work_off(self, lead: Lead, until: datetime) -> None:
        """Do the follow-ups due before ``until``; of the last weeks some are forgotten."""
        day = self.team.today(until)
        recently = self.team.today(self.now) - timedelta(days=60)
        due = FollowUp.objects.for_team(self.team).filter(lead=lead).due_by(day)
        for follow_up in due.select_related("owner"):
            forgotten = follow_up.due_on > recently and self.random.random() < 0.15
            if follow_up.owner is not None and not forgotten:
                done = at_local(follow_up.due_on, time(15), self.team.timezone)
                done += timedelta(days=self.random.choice([0, 0, 0, 1, 2]))
                mark_done(follow_up=follow_up, member=follow_up.owner, now=min(done, until))
