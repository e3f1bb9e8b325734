"""The private address at which a member's calendar is read."""

from __future__ import annotations

import secrets
from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet


def new_token() -> str:
    """Return what nobody guesses."""
    return secrets.token_urlsafe(32)


class Feed(TeamOwned):
    """One member's calendar for other programs. Whoever knows the token may read it."""

    member = models.ForeignKey("teams.Member", models.CASCADE, related_name="+")
    token = models.CharField(max_length=64, default=new_token, db_index=True)
    changed_at = models.DateTimeField()

    objects: Any = TeamQuerySet["Feed"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "member"], name="feed_unique")]

    def __str__(self) -> str:
        return f"feed of {self.member_id}"
