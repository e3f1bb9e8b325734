"""Log a lead, and correct what was entered about it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused

from .models import Contact, Lead, Source
from .rules import hold, money, not_after
from .settle import settle


def source_named(team: Team, name: str) -> Source | None:
    """Return the team's source of this name, whatever its case, made where there is none."""
    name = " ".join(name.split())
    if not name:
        return None
    known: Source | None = Source.objects.for_team(team).filter(name__iexact=name).first()
    return known or Source.objects.get_or_create(team=team, name=name)[0]


@transaction.atomic
def log_lead(
    *,
    team: Team,
    member: Member | None,
    now: datetime,
    organisation: str,
    contact_name: str = "",
    contact_email: str = "",
    source: Source | str | None = None,
    enquired_on: date | None = None,
    **rest: Any,
) -> Lead:
    """Store a lead and, where one is named, its first contact.

    ``rest`` are further fields of the lead. Whoever logs it looks after it unless ``owner`` says
    otherwise; amounts are in the team's currency unless ``currency`` does.
    """
    rest.setdefault("owner", member)
    lead = Lead(
        team=team, organisation=organisation, enquired_on=enquired_on, created_at=now, **rest
    )
    _check(lead, team, now)
    lead.source = source_named(team, source) if isinstance(source, str) else source
    _save(lead)
    if contact_name or contact_email:
        Contact.objects.create(team=team, lead=lead, name=contact_name, email=contact_email)
    settle(team, [lead.pk], now=now)
    lead.refresh_from_db()
    return lead


@transaction.atomic
def amend_lead(*, lead: Lead, source: str, expected_version: int, now: datetime) -> Lead:
    """Store a lead that was corrected; ``Stale`` if somebody else did so meanwhile."""
    team = hold(lead.pk).team
    _check(lead, team, now)
    lead.source = source_named(team, source)
    _save(lead, expected_version)
    settle(team, [lead.pk], now=now)
    return lead


def _check(lead: Lead, team: Team, now: datetime) -> None:
    today = team.today(now)
    not_after(lead.enquired_on, today, field="enquired_on")
    not_after(lead.followed_since, today, field="followed_since")
    lead.currency = lead.currency or team.currency
    for field in ("budget_at_entry", "expected_fee"):
        money(getattr(lead, field), lead.currency, team, field=field)


def _save(lead: Lead, expected_version: int | None = None) -> None:
    try:
        with transaction.atomic():
            if expected_version is None:
                lead.save(force_insert=True)
            else:
                lead.save_version(expected_version)
    except IntegrityError:
        raise Refused(
            f"Another lead has the reference {lead.reference}. Give one of its own.", "reference"
        ) from None
