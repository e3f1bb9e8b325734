"""A person's place in a team."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import models

from .owned import TeamQuerySet
from .team import Team

if TYPE_CHECKING:
    from django.contrib.auth.models import AnonymousUser

    from .user import User


class Role(models.TextChoices):
    """What a member may do: a reader reads, a member writes, an owner also runs the team."""

    READER = "reader", "reader"
    MEMBER = "member", "member"
    OWNER = "owner", "owner"


# What the app writes of its own accord, by the names of the fields ``wants_…``. Those who only
# read have no part but in the review.
LETTERS = ("digest", "review", "reminders", "notes")
LETTERS_OF_READERS = ("review",)

RANK = {Role.READER: 0, Role.MEMBER: 1, Role.OWNER: 2}


class MemberQuerySet(TeamQuerySet["Member"]):
    """Memberships by what they are looked up for."""

    def at_door(self, user: User | AnonymousUser, slug: str) -> MemberQuerySet:
        """Return the one membership with which ``user`` may enter the team ``slug``."""
        mine = self.present().filter(user=user.pk or 0, team__slug=slug)
        return mine.select_related("team", "user")

    def present(self) -> MemberQuerySet:
        """Return those who have not left."""
        return self.filter(left_on=None)

    def for_switching(self, user: User | AnonymousUser) -> MemberQuerySet:
        """Return the memberships of ``user``, for the list of teams."""
        mine = self.present().filter(user=user.pk or 0)
        return mine.select_related("team").order_by("team__name")

    def who_write(self) -> MemberQuerySet:
        """Return those who may own work: everyone present but readers."""
        return self.present().exclude(role=Role.READER)

    def who_get(self, letter: str) -> MemberQuerySet:
        """Return those who want one of ``LETTERS``, can read it, and have a part in it."""
        rows = self.present() if letter in LETTERS_OF_READERS else self.who_write()
        return rows.filter(**{f"wants_{letter}": True}, user__is_active=True)

    def with_user(self) -> MemberQuerySet:
        """Return members with their names at hand, in order of name."""
        return self.select_related("user").order_by("user__name", "user__email")


class Member(models.Model):
    """One person in one team, with one role."""

    team = models.ForeignKey(Team, models.CASCADE, related_name="members")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=6, choices=Role, default=Role.MEMBER)
    # Which of LETTERS this member wants.
    wants_digest = models.BooleanField(default=True)
    wants_review = models.BooleanField(default=True)
    wants_reminders = models.BooleanField(default=True)
    wants_notes = models.BooleanField(default=True)
    # NULL: still here. Who left keeps the row, so that the record still says who did what.
    left_on = models.DateField(null=True, blank=True, editable=False)

    objects: Any = MemberQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "user"], name="member_unique")]

    def __str__(self) -> str:
        return str(self.user)

    def may(self, needs: str) -> bool:
        """Tell whether this member's role is ``needs`` or more."""
        return RANK[Role(self.role)] >= RANK[Role(needs)]

    @property
    def writes(self) -> bool:
        """Whether this member may change the team's rows."""
        return self.may(Role.MEMBER)

    @property
    def lacks_second_factor(self) -> bool:
        """Whether the team asks for a second factor that this person has not set up."""
        return self.team.requires_second_factor and not self.user.second_factor

    @property
    def may_get(self) -> tuple[str, ...]:
        """Those of ``LETTERS`` in which this member has a part."""
        return LETTERS if self.writes else LETTERS_OF_READERS

    @property
    def gets(self) -> list[str]:
        """Those of ``LETTERS`` that this member gets."""
        return [letter for letter in self.may_get if getattr(self, f"wants_{letter}")]
