"""Rows for tests: each with the least it needs, all in one team."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import factory

from pipeline.followups.models import Consent, FollowUp, LeadLetter, PlanEdition, PlanStep
from pipeline.leads.models import (
    Contact,
    Decision,
    Funding,
    Lead,
    LogEntry,
    Proposal,
    Source,
)
from pipeline.results.models import ExchangeRate
from pipeline.teams.models import Absence
from sessions.models import Deliverable, DiscoverySession, Format, Offer, OfferedTime, Step
from tests.conftest import NOW, TODAY


class AbsenceFactory(factory.django.DjangoModelFactory):
    """Days away, TODAY alone; pass ``member``, the team follows."""

    class Meta:
        model = Absence

    team = factory.SelfAttribute("member.team")
    first_day = TODAY
    last_day = factory.SelfAttribute("first_day")


class SourceFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Source

    name = factory.Sequence(lambda n: f"source {n}")


class LeadFactory(factory.django.DjangoModelFactory):
    """A lead; pass ``team``."""

    class Meta:
        model = Lead

    organisation = factory.Sequence(lambda n: f"Organisation {n}")
    enquired_on = date(2026, 1, 12)
    currency = factory.SelfAttribute("team.currency")
    created_at = NOW


class OfLead(factory.django.DjangoModelFactory):
    """A row of a lead; pass ``lead``, the team follows."""

    class Meta:
        abstract = True

    lead: Lead
    team = factory.SelfAttribute("lead.team")


class ContactFactory(OfLead):
    class Meta:
        model = Contact

    name = factory.Sequence(lambda n: f"Person {n}")
    email = factory.Sequence(lambda n: f"person{n}@lead.example")


class LogEntryFactory(OfLead):
    class Meta:
        model = LogEntry

    day = TODAY
    channel = "call"
    gist = "They asked for dates."
    recorded_at = NOW


class DecisionFactory(OfLead):
    class Meta:
        model = Decision

    kind = "no budget yet"
    day = TODAY
    recorded_at = NOW


class ProposalFactory(OfLead):
    class Meta:
        model = Proposal

    sent_on = TODAY
    recorded_at = NOW


class FundingFactory(OfLead):
    class Meta:
        model = Funding

    arrived_on = TODAY
    recorded_at = NOW


class FormatFactory(factory.django.DjangoModelFactory):
    """A format without steps; pass ``team``."""

    class Meta:
        model = Format

    name = factory.Sequence(lambda n: f"Format {n}")


class StepFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Step

    team = factory.SelfAttribute("format.team")
    position = factory.Sequence(lambda n: n)
    title = "Listen"
    minutes = 10
    way = "talk"


class SessionFactory(OfLead):
    """A booked session without an hour; pass ``lead``."""

    class Meta:
        model = DiscoverySession

    format = factory.SubFactory(FormatFactory, team=factory.SelfAttribute("..lead.team"))
    day = TODAY
    recorded_at = NOW


class DeliverableFactory(OfLead):
    class Meta:
        model = Deliverable

    title = factory.Sequence(lambda n: f"Deliverable {n}")
    due_on = TODAY
    recorded_at = NOW


class OfferFactory(OfLead):
    """One time, two days after NOW, held for a lead; pass ``lead``."""

    class Meta:
        model = Offer
        skip_postgeneration_save = True

    format = factory.SubFactory(FormatFactory, team=factory.SelfAttribute("..lead.team"))
    minutes = 60
    made_at = NOW

    @factory.post_generation
    def starts(self, create, given, **kwargs):
        for start in given or [NOW + timedelta(days=2)]:
            OfferedTime.objects.create(team=self.team, offer=self, starts_at=start)


class FollowUpFactory(OfLead):
    class Meta:
        model = FollowUp

    key = factory.Sequence(lambda n: f"by hand:{n}")
    action = "Ask how the takeaway was received"
    due_on = TODAY
    created_at = NOW


class LeadLetterFactory(OfLead):
    """A draft; pass ``lead``, and ``contact`` where it may go out."""

    class Meta:
        model = LeadLetter

    subject = "How is it going?"
    text = "Good day,\n\nhow do you fare with what we found?"
    created_at = NOW


class ConsentFactory(factory.django.DjangoModelFactory):
    """An agreement to letters; pass ``contact``, team and lead follow."""

    class Meta:
        model = Consent

    team = factory.SelfAttribute("contact.team")
    lead = factory.SelfAttribute("contact.lead")
    name = factory.SelfAttribute("contact.name")
    day = TODAY
    how = "in writing"
    said = "You may write to me now and then."
    recorded_at = NOW


class PlanEditionFactory(factory.django.DjangoModelFactory):
    """An edition of a plan, holding from the start; pass ``team``."""

    class Meta:
        model = PlanEdition

    number = 1


class PlanStepFactory(factory.django.DjangoModelFactory):
    """A step of a plan; pass ``edition``, the team follows, or ``edition__team``."""

    class Meta:
        model = PlanStep

    edition = factory.SubFactory(PlanEditionFactory)
    team = factory.SelfAttribute("edition.team")
    trigger = "proposal sent"
    position = 1
    action = "Ask where the proposal stands"
    count = 10
    unit = "working days"


class ExchangeRateFactory(factory.django.DjangoModelFactory):
    """A rate into the team's currency; pass ``team``."""

    class Meta:
        model = ExchangeRate

    month = date(2025, 12, 1)
    currency = "CHF"
    into = factory.SelfAttribute("team.currency")
    rate = Decimal("1.0625")
