"""Save a team's settings; what was planned by its working days follows them."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from .models import Team


@transaction.atomic
def save_settings(*, team: Team, expected_version: int, now: datetime) -> bool:
    """Store the team's settings; returns whether its working days are others now.

    ``Stale`` where somebody else saved them since ``expected_version``.
    """
    before = Team.objects.get(pk=team.pk)
    team.save_version(expected_version)
    if (before.timezone, before.calendar()) == (team.timezone, team.calendar()):
        return False
    import_string(settings.FOLLOW_WORKING_DAYS)(team, now)
    return True
