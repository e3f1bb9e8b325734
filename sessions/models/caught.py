"""What the crew caught in a session: themes with their notes, statements with their votes."""

from __future__ import annotations

from typing import Any, Self

from django.db import models
from django.db.models import F, Prefetch, Q

from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned

from .format import Step
from .session import DiscoverySession

LONGEST_TITLE = 120
LONGEST_TEXT = 20_000


class CaughtQuerySet(TeamQuerySet[Any]):
    """What was caught, by what it is looked up for."""

    def kept(self) -> Self:
        """Return what nobody has let go."""
        return self.filter(let_go=False)

    def after(self, change: int) -> Self:
        """Return what was changed at the desk after its change number ``change``."""
        return self.filter(changed__gt=change)


class Caught(TeamOwned, Versioned):
    """One thing caught. Its key was made where it was typed, so that it can be sent again."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="%(class)ss")
    key = models.UUIDField()
    # When it was typed, by the server's clock; what is sent late stands where it was said.
    at = models.DateTimeField()
    # NULL: who typed it is gone.
    by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # The desk's change number at which this row was last written.
    changed = models.PositiveBigIntegerField(default=0)
    # Nothing caught is deleted; what was let go can be taken back.
    let_go = models.BooleanField(default=False)

    class Meta:
        abstract = True


class ThemeQuerySet(CaughtQuerySet):
    """Themes by what they are looked up for."""

    def with_notes(self) -> ThemeQuerySet:
        """Return themes with their kept notes at hand, in order."""
        return self.prefetch_related(Prefetch("notes", Note.objects.kept()))


class Theme(Caught):
    """A heading that emerged while people talked."""

    # Longer than one title: two renames at once stand side by side.
    title = models.CharField(max_length=2 * LONGEST_TITLE + 3)
    position = models.PositiveIntegerField(default=0)
    # NULL: not merged. A merged theme is let go, and what comes for it late goes on to the other.
    merged_into = models.ForeignKey(
        "self", models.SET_NULL, null=True, blank=True, related_name="merged"
    )

    objects: Any = ThemeQuerySet.as_manager()

    class Meta:
        ordering = ["position", "at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "session", "key"], name="theme_unique")
        ]

    def __str__(self) -> str:
        return self.title


class NoteQuerySet(CaughtQuerySet):
    """Notes by what they are looked up for."""

    def opportunities(self) -> NoteQuerySet:
        """Return the kept notes that were reworded as an opportunity question."""
        return self.kept().exclude(opportunity="")


class Note(Caught):
    """What was said, under a theme or under none yet."""

    # NULL: under no theme yet.
    theme = models.ForeignKey(Theme, models.SET_NULL, null=True, blank=True, related_name="notes")
    # NULL: caught outside any step.
    step = models.ForeignKey(Step, models.RESTRICT, null=True, blank=True, related_name="+")
    text = models.TextField(max_length=LONGEST_TEXT)
    # The note as an opportunity question; the note itself stays as it was said. Empty: none.
    opportunity = models.TextField(max_length=LONGEST_TEXT, blank=True)
    # NULL: stands alone. Else two reworded one note at once, and this is the second wording.
    beside = models.ForeignKey(
        "self", models.SET_NULL, null=True, blank=True, related_name="wordings"
    )

    objects: Any = NoteQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "session", "key"], name="note_unique")
        ]

    def __str__(self) -> str:
        return self.text


class StatementQuerySet(CaughtQuerySet):
    """Statements by what they are looked up for."""

    def ranked(self) -> StatementQuerySet:
        """Return the kept statements, most votes first, then as they were said."""
        return self.kept().order_by(F("votes").desc(), "at", "pk")


class Statement(Caught):
    """One answer to the prompt of a step, and how many votes it got."""

    step = models.ForeignKey(Step, models.RESTRICT, related_name="+")
    text = models.TextField(max_length=LONGEST_TEXT)
    votes = models.PositiveIntegerField(default=0)
    # NULL: stands alone. Else two reworded one statement at once, and this is the second wording.
    beside = models.ForeignKey(
        "self", models.SET_NULL, null=True, blank=True, related_name="wordings"
    )

    objects: Any = StatementQuerySet.as_manager()

    class Meta:
        ordering = ["step__position", "at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "session", "key"], name="statement_unique"),
            models.CheckConstraint(condition=Q(votes__gte=0), name="votes_are_counts"),
        ]

    def __str__(self) -> str:
        return self.text
