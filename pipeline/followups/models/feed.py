"""The private address at which a member's calendar is read."""

from __future__ import annotations

import secrets
from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet


def new_token() -> str:
    """Return what nobody guesses."""
    return secrets.token_urlsafe(32)


class FeedQuerySet(TeamQuerySet["Feed"]):
    """Feeds by what they are looked up for."""

    def in_use(self) -> FeedQuerySet:
        """Return those of members who are here and may sign in."""
        here = self.filter(member__left_on=None, member__user__is_active=True)
        return here.select_related("member__user", "member__team")


class Feed(TeamOwned):
    """One member's calendar for other programs. Whoever knows the token may read it."""

    member = models.ForeignKey("teams.Member", models.CASCADE, related_name="+")
    token = models.CharField(max_length=64, default=new_token, db_index=True)
    changed_at = models.DateTimeField()

    objects: Any = FeedQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "member"], name="feed_unique")]

    def __str__(self) -> str:
        return f"feed of {self.member_id}"
