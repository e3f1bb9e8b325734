"""Record what happened with a lead, and mend or remove what was entered wrongly.

Decisions, proposals, funding and conversations. A double of a fact is refused by the database's
own rule, so that of two people at once only one succeeds.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db import IntegrityError, transaction

from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused

from .models import Decision, Funding, Lead, LogEntry, Proposal
from .rules import fits, hold, money, not_after
from .settle import settle

Fact = TypeVar("Fact", Decision, Proposal, Funding, LogEntry)


def record_decision(
    *,
    lead: Lead,
    member: Member | None,
    now: datetime,
    kind: str,
    day: date,
    reason: str = "",
    fee: Decimal | None = None,
    currency: str = "",
    funding_expected_on: date | None = None,
    expected_by_month: bool = True,
    funding_from: str = "",
    plan_from: date | None = None,
) -> Decision:
    """Record what the lead (or, turning it away, the team) decided on ``day``.

    A fee goes with ``engaged``; when and from where money is expected with ``no budget yet``.
    """
    decision = Decision(
        team_id=lead.team_id,
        lead=lead,
        recorded_at=now,
        recorded_by=member,
        plan_from=plan_from,
        kind=kind,
        day=day,
        reason=reason,
        fee=fee,
        currency=currency,
        funding_expected_on=funding_expected_on,
        expected_by_month=expected_by_month,
        funding_from=funding_from,
    )
    return _store(decision, now=now)


def record_proposal(
    *,
    lead: Lead,
    member: Member | None,
    now: datetime,
    sent_on: date,
    fee: Decimal | None = None,
    currency: str = "",
    note: str = "",
    plan_from: date | None = None,
) -> Proposal:
    """Record that an offer was sent to the lead."""
    proposal = Proposal(
        team_id=lead.team_id,
        lead=lead,
        recorded_at=now,
        recorded_by=member,
        plan_from=plan_from,
        sent_on=sent_on,
        fee=fee,
        currency=currency,
        note=note,
    )
    return _store(proposal, now=now)


def record_funding(
    *,
    lead: Lead,
    member: Member | None,
    now: datetime,
    arrived_on: date,
    note: str = "",
    plan_from: date | None = None,
) -> Funding:
    """Record that money arrived at the lead."""
    funding = Funding(
        team_id=lead.team_id,
        lead=lead,
        recorded_at=now,
        recorded_by=member,
        plan_from=plan_from,
        arrived_on=arrived_on,
        note=note,
    )
    return _store(funding, now=now)


def record_conversation(
    *,
    lead: Lead,
    member: Member | None,
    now: datetime,
    day: date,
    channel: str,
    gist: str,
    who: str = "",
) -> LogEntry:
    """Record a conversation with the lead."""
    entry = LogEntry(
        team_id=lead.team_id,
        lead=lead,
        recorded_at=now,
        recorded_by=member,
        day=day,
        channel=channel,
        who=who,
        gist=gist,
    )
    return _store(entry, now=now)


def amend_decision(*, decision: Decision, expected_version: int, now: datetime) -> Decision:
    """Store a decision that was corrected; ``Stale`` if somebody else did so meanwhile."""
    return _store(decision, now=now, expected_version=expected_version)


def amend_proposal(*, proposal: Proposal, expected_version: int, now: datetime) -> Proposal:
    """Store a proposal that was corrected; ``Stale`` if somebody else did so meanwhile."""
    return _store(proposal, now=now, expected_version=expected_version)


def amend_funding(*, funding: Funding, expected_version: int, now: datetime) -> Funding:
    """Store funding that was corrected; ``Stale`` if somebody else did so meanwhile."""
    return _store(funding, now=now, expected_version=expected_version)


def amend_conversation(*, entry: LogEntry, expected_version: int, now: datetime) -> LogEntry:
    """Store a conversation that was corrected; ``Stale`` if somebody else did so meanwhile."""
    return _store(entry, now=now, expected_version=expected_version)


def remove_decision(*, decision: Decision, now: datetime) -> None:
    """Remove a decision that was entered by mistake."""
    _remove(decision, now=now)


def remove_proposal(*, proposal: Proposal, now: datetime) -> None:
    """Remove a proposal that was entered by mistake."""
    _remove(proposal, now=now)


def remove_funding(*, funding: Funding, now: datetime) -> None:
    """Remove funding that was entered by mistake."""
    _remove(funding, now=now)


def remove_conversation(*, entry: LogEntry, now: datetime) -> None:
    """Remove a conversation that was entered by mistake."""
    _remove(entry, now=now)


@transaction.atomic
def _store(fact: Fact, *, now: datetime, expected_version: int | None = None) -> Fact:
    lead = hold(fact.lead_id)
    _CHECKS[type(fact)](fact, lead.team, lead.team.today(now))
    try:
        with transaction.atomic():
            if expected_version is None:
                fact.save(force_insert=True)
            else:
                fact.save_version(expected_version)
    except IntegrityError:
        message, field = _DOUBLES[type(fact)]
        raise Refused(message.format(fact=fact), field) from None
    _settle(fact, lead, now)
    return fact


@transaction.atomic
def _remove(fact: Fact, *, now: datetime) -> None:
    lead = hold(fact.lead_id)
    fact.delete()
    _settle(fact, lead, now)


def _settle(fact: Fact, lead: Lead, now: datetime) -> None:
    # Nothing follows from a conversation.
    if not isinstance(fact, LogEntry):
        settle(lead.team, [lead.pk], now=now)


def _check_decision(decision: Decision, team: Team, today: date) -> None:
    not_after(decision.day, today, field="day")
    fits(
        decision.kind,
        fee=decision.fee,
        expected_on=decision.funding_expected_on,
        expected_from=decision.funding_from,
    )
    if decision.funding_expected_on and decision.expected_by_month:
        decision.funding_expected_on = decision.funding_expected_on.replace(day=1)
    decision.fee, decision.currency = money(decision.fee, decision.currency, team, field="fee")


def _check_proposal(proposal: Proposal, team: Team, today: date) -> None:
    not_after(proposal.sent_on, today, field="sent_on")
    proposal.fee, proposal.currency = money(proposal.fee, proposal.currency, team, field="fee")


def _check_funding(funding: Funding, team: Team, today: date) -> None:
    not_after(funding.arrived_on, today, field="arrived_on")


def _check_conversation(entry: LogEntry, team: Team, today: date) -> None:
    not_after(entry.day, today, field="day")


_CHECKS: dict[type, Callable[[Any, Team, date], None]] = {
    Decision: _check_decision,
    Proposal: _check_proposal,
    Funding: _check_funding,
    LogEntry: _check_conversation,
}

# What a broken rule of the database means, in words, and the field to mend.
_DOUBLES = {
    Decision: (
        "“{fact.kind}” on {fact.day} is recorded already. Give another day, or edit that one.",
        "day",
    ),
    Proposal: (
        "A proposal of {fact.sent_on} is recorded already. Give another day, or edit that one.",
        "sent_on",
    ),
    Funding: (
        "Funding on {fact.arrived_on} is recorded already. Give another day, or edit that one.",
        "arrived_on",
    ),
    LogEntry: ("This conversation cannot be stored as it is.", None),
}
