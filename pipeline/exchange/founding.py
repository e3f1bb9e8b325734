"""A new team with what it needs to begin: an owner, formats to book, a plan to follow up by."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from pipeline.followups.plans import ensure_plan
from pipeline.locks.asking import as_team
from pipeline.teams.membership import join
from pipeline.teams.models import Member, Role, Team
from pipeline.teams.refused import Refused
from sessions.formats import ensure_formats


@transaction.atomic
def found_team(
    *,
    name: str,
    slug: str,
    owner_email: str,
    timezone: str,
    country: str,
    now: datetime,
    subdivision: str = "",
    currency: str = "EUR",
    owner_name: str = "",
) -> tuple[Team, Member]:
    """Make a team and its first owner; a person known by the address keeps the account.

    Raises ``Refused`` with the field at fault: one of this function's own arguments.
    """
    team = Team(
        name=name.strip(),
        slug=slug,
        timezone=timezone,
        country=country,
        subdivision=subdivision,
        currency=currency,
    )
    try:
        team.full_clean()
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise Refused(messages[0], field) from error
    team.save()
    with as_team(team.pk):
        try:
            owner = join(team=team, email=owner_email, name=owner_name, role=Role.OWNER)
        except Refused as refused:
            raise Refused(str(refused), "owner_email") from refused
        ensure_formats(team)
        ensure_plan(team)
    return team, owner
