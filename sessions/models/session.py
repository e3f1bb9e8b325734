"""One free discovery session, and who of the team ran it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from pipeline.leads.models import Contact, Lead
from pipeline.teams.models import Recorded, TeamOwned, TeamQuerySet, Versioned

from .format import LONGEST, Format


class State(models.TextChoices):
    """What became of a session."""

    BOOKED = "booked", "booked"
    HELD = "held", "held"
    MISSED = "missed", "missed"
    CANCELLED = "cancelled", "cancelled"


class Part(models.TextChoices):
    """What a member of the crew does."""

    FACILITATOR = "facilitator", "facilitator"
    NOTE_TAKER = "note-taker", "note-taker"
    SUPPORT = "support", "support"


class SessionQuerySet(TeamQuerySet["DiscoverySession"]):
    """Sessions by what they are looked up for."""

    def booked(self) -> SessionQuerySet:
        return self.filter(state=State.BOOKED)

    def held(self) -> SessionQuerySet:
        return self.filter(state=State.HELD)

    def with_names(self) -> SessionQuerySet:
        """Return sessions with lead, format and crew at hand."""
        crew = models.Prefetch("crew", CrewPlace.objects.select_related("member__user"))
        return self.select_related("lead", "format").prefetch_related(crew)

    def in_days(self, first: date, last: date) -> SessionQuerySet:
        """Return sessions on the days ``first`` to ``last``, both included."""
        return self.filter(day__gte=first, day__lte=last)

    def free_minutes(self) -> int:
        """Return the minutes of these sessions that are given, or to be given."""
        given = self.filter(state__in=[State.BOOKED, State.HELD])
        return given.aggregate(total=models.Sum("minutes"))["total"] or 0


class DiscoverySession(TeamOwned, Recorded, Versioned):
    """One free discovery session with a lead."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="sessions")
    # NULL: not known (from an import).
    format = models.ForeignKey(
        Format, models.RESTRICT, null=True, blank=True, related_name="sessions"
    )
    state = models.CharField(max_length=9, choices=State, default=State.BOOKED, editable=False)
    # The team's local day; it always agrees with starts_at.
    day = models.DateField(editable=False)
    # NULL: only the day is known (from an import).
    starts_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(
        default=60, validators=[MinValueValidator(1), MaxValueValidator(LONGEST)]
    )
    place = models.CharField("joining link or place", max_length=300, blank=True)
    beforehand = models.URLField("page to open beforehand", max_length=300, blank=True)
    attendees = models.ManyToManyField(Contact, blank=True, related_name="sessions")
    # People of the lead who came, named or not; NULL: not known.
    attendee_count = models.PositiveSmallIntegerField("people who came", null=True, blank=True)
    # The team's minutes; NULL: not noted.
    effort_before = models.PositiveIntegerField("minutes preparing", null=True, blank=True)
    effort_during = models.PositiveIntegerField("minutes running", null=True, blank=True)
    effort_after = models.PositiveIntegerField("minutes writing up", null=True, blank=True)
    # From an import, which knows only the sum.
    effort_unsplit = models.PositiveIntegerField(null=True, blank=True, editable=False)
    reason = models.TextField("why it was missed or cancelled", blank=True)
    # Who marked it held, missed or cancelled, and when; NULL: not marked, or by an import.
    marked_at = models.DateTimeField(null=True, editable=False)
    marked_by = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    objects: Any = SessionQuerySet.as_manager()

    class Meta:
        ordering = ["day", "starts_at", "pk"]
        verbose_name = "session"
        indexes = [
            models.Index(fields=["team", "state", "day"], name="session_by_state"),
            models.Index(fields=["team", "day"], name="session_by_day"),
        ]

    def __str__(self) -> str:
        return f"{self.format or 'session'} on {self.day}"

    def get_absolute_url(self) -> str:
        return reverse("session", args=[self.team.slug, self.pk])

    @property
    def ends_at(self) -> datetime | None:
        """The moment at which the booked time is over; ``None`` where no hour is known."""
        return self.starts_at + timedelta(minutes=self.minutes) if self.starts_at else None

    def late_on(self, day: date) -> bool:
        """Tell whether on ``day`` nobody has said yet what became of it."""
        return self.state == State.BOOKED and self.day < day

    def whose(self, part: str) -> list[Any]:
        """Return the members who have ``part`` in this session, from the crew at hand."""
        return [place.member for place in self.crew.all() if place.part == part]

    @property
    def effort(self) -> int | None:
        """The team's minutes on this session, in all; ``None`` where nothing was noted."""
        parts = [self.effort_before, self.effort_during, self.effort_after, self.effort_unsplit]
        noted = [part for part in parts if part is not None]
        return sum(noted) if noted else None


class CrewPlace(TeamOwned):
    """A member's part in a session."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="crew")
    member = models.ForeignKey("teams.Member", models.CASCADE, related_name="+")
    part = models.CharField(max_length=11, choices=Part)

    objects: Any = TeamQuerySet["CrewPlace"].as_manager()

    class Meta:
        ordering = ["part", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "session", "member"], name="crew_unique"),
            models.UniqueConstraint(
                fields=["team", "session", "part"],
                condition=~Q(part=Part.SUPPORT),
                name="crew_part_unique",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.member}, {self.part}"
