"""Outgoing letters as rows: written with the fact that causes them, claimed, sent, kept."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from hashlib import sha256
from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from pipeline.claims.due import STUCK, Due, DueRows
from pipeline.teams.models import Member, Role, Team, TeamOwned, TeamQuerySet


class LetterQuerySet(DueRows, TeamQuerySet["Letter"]):
    """Letters by what they are looked up for."""

    def with_sender(self) -> LetterQuerySet:
        """Return letters with what their head says at hand; outside its team nothing else is."""
        return self.select_related("team", "by__user")

    def for_outbox(self) -> LetterQuerySet:
        """Return letters for the outbox page, newest first."""
        return self.select_related("member__user", "by__user", "team").order_by("-due_at", "-pk")

    def not_private(self) -> LetterQuerySet:
        """Return those that others than their addressee may hear of."""
        return self.filter(private=False)

    def visible_to(self, member: Member) -> LetterQuerySet:
        """Return the letters that a member may read: an owner the team's, others their own.

        One's own are those to oneself and those that one had sent. Private ones nobody reads here.
        """
        rows = self.not_private().filter(team=member.team_id)
        return rows if member.may(Role.OWNER) else rows.filter(Q(member=member) | Q(by=member))


class Stops(models.TextChoices):
    """The lists that an addressee may leave: those of members, and letters to contacts."""

    DIGEST = "digest", "the daily digest"
    REVIEW = "review", "the weekly review"
    REMINDERS = "reminders", "reminders of sessions"
    NOTES = "notes", "notes of enquiries, of returns, and of money that arrived"
    LETTERS = "letters", "letters"


class Letter(TeamOwned, Due):
    """One letter to one address."""

    # On average the waits add up to more than four days, as RFC 5321, 4.5.4.1, has a sender try.
    tries: ClassVar[int] = 28

    # Says what the letter is about; the same cause never makes a second letter.
    key = models.CharField(max_length=200)
    # NULL: not to a member.
    member = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # Who had it sent, and gets the answer; NULL: the app wrote it by itself.
    by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    to = models.EmailField(max_length=254)
    subject = models.CharField(max_length=250)
    text = models.TextField()
    html = models.TextField(blank=True)
    # A calendar file that goes with it (RFC 6047); empty: none.
    calendar = models.TextField(blank=True)
    # The list to which it belongs; empty: to none, so it can't be stopped.
    stops = models.CharField(max_length=9, choices=Stops, blank=True)
    # It may hold a link that lets its reader in: no page shows it, and once it is sent no text
    # is left.
    private = models.BooleanField(default=False)
    # NULL: not sent yet.
    sent_at = models.DateTimeField(null=True)
    # NULL: not held back. Else its addressee had asked for no more before it went out.
    withheld_at = models.DateTimeField(null=True)

    objects: Any = LetterQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "key"], name="letter_unique")]
        indexes = [
            models.Index(
                fields=["next_attempt_at"],
                condition=Q(next_attempt_at__isnull=False),
                name="letter_waiting",
            ),
            models.Index(fields=["team", "-due_at"], name="letter_outbox"),
            models.Index(fields=["team"], condition=STUCK, name="letter_stuck"),
            models.Index(fields=["claimed_at"], name="letter_claimed"),
        ]

    def __str__(self) -> str:
        return self.subject


def digest_of(address: str) -> str:
    """Return by what an address is known without being kept: the SHA-256 of it, caseless."""
    return sha256(address.strip().casefold().encode()).hexdigest()


class StoppedAddressQuerySet(TeamQuerySet["StoppedAddress"]):
    """Addresses to which no more letters go."""

    def has(self, team: Team, address: str) -> bool:
        """Tell whether this address asked ``team`` for no more letters."""
        return bool(self.of(team, [address]))

    def of(self, team: Team, addresses: Collection[str]) -> dict[str, datetime]:
        """Return those of these addresses, as given, that asked for no more, and since when."""
        known = {address: digest_of(address) for address in addresses if address}
        rows = self.for_team(team).filter(address__in=set(known.values()))
        since = dict(rows.values_list("address", "stopped_at"))
        return {given: since[digest] for given, digest in known.items() if digest in since}


class StoppedAddress(TeamOwned):
    """Somebody who asked a team for no more letters; outlives the contact, and any merge."""

    address = models.CharField(max_length=64)
    stopped_at = models.DateTimeField()
    # Who wrote it down for them; NULL: they did so themselves.
    by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")

    objects: Any = StoppedAddressQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "address"], name="stopped_address_unique")
        ]

    def __str__(self) -> str:
        return f"stopped on {self.stopped_at:%Y-%m-%d}"
