"""A team's follow-up plan: for each trigger the offsets at which something is to be done."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce

from pipeline.followups.letter_words import wrong_blanks
from pipeline.teams.models import Team, TeamOwned, TeamQuerySet, Versioned


class Trigger(models.TextChoices):
    """The fact from which follow-ups are counted."""

    DELIVERABLE_SENT = "deliverable sent", "deliverable sent"
    SESSION_MISSED = "session missed", "session missed"
    PROPOSAL_SENT = "proposal sent", "proposal sent"
    ENGAGED = "engaged", "engaged"
    NO_BUDGET = "no budget yet", "no budget yet"
    DECLINED = "declined", "declined"
    QUIET = "gone quiet", "gone quiet"
    TURNED_AWAY = "turned away", "turned away"
    FUNDING_ARRIVED = "funding arrived", "funding arrived"


class Unit(models.TextChoices):
    """What an offset counts, and from where."""

    WORKING_DAYS = "working days", "working days after"
    WEEKS = "weeks", "weeks after"
    MONTHS = "months", "months after"
    WEEKS_BEFORE_FUNDING = "weeks before funding", "weeks before money is expected"
    WEEKS_AFTER_EXPECTED = "weeks after expected", "weeks after money was expected"


# Counted from the day, or the month, for which money is expected.
OF_EXPECTED_MONEY = frozenset({Unit.WEEKS_BEFORE_FUNDING, Unit.WEEKS_AFTER_EXPECTED})


class PlanEditionQuerySet(TeamQuerySet["PlanEdition"]):
    """Editions by what they are looked up for."""

    def newest(self, team: Team) -> PlanEdition | None:
        """Return the edition that new facts follow; ``None``: the team has no plan."""
        return self.for_team(team).order_by("-number").first()

    def in_force(self, team: Team) -> PlanEditionQuerySet:
        """Return the newest that holds for every fact, and those after it; the newest first."""
        rows = self.for_team(team).order_by("-number")
        whole = rows.filter(Q(made_at=None) | ~Q(everywhere_at=None)).values("number")[:1]
        least = Coalesce(models.Subquery(whole), 0)
        return rows.filter(number__gte=least)


class PlanEdition(TeamOwned):
    """A team's whole plan as it stood after one change; never edited, only followed by another.

    A fact goes by the newest edition that was made when the fact was recorded, or that was made
    to hold everywhere since.
    """

    number = models.PositiveIntegerField()
    # NULL: came with the program, so it holds from the start.
    made_at = models.DateTimeField(null=True)
    # NULL: came with the program, or made by someone who has left.
    made_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # When it was told to hold for facts recorded before it was made; NULL: it does not.
    everywhere_at = models.DateTimeField(null=True)

    objects: Any = PlanEditionQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["team", "number"], name="edition_unique")]

    def __str__(self) -> str:
        return f"plan {self.number}"


class PlanStepQuerySet(TeamQuerySet["PlanStep"]):
    """Steps of plans by what they are looked up for."""

    def current(self, team: Team) -> PlanStepQuerySet:
        """Return the steps of the team's newest edition."""
        newest = PlanEdition.objects.for_team(team).order_by("-number").values("pk")[:1]
        return self.filter(team=team, edition=models.Subquery(newest))


class PlanStep(TeamOwned, Versioned):
    """One offset of a team's plan in one edition: what to do, and when.

    ``version`` is the number of the edition that last changed it.
    """

    edition = models.ForeignKey(PlanEdition, models.CASCADE, related_name="steps", editable=False)
    trigger = models.CharField("after", max_length=16, choices=Trigger)
    # The step's lasting number after this trigger, the same in every edition and never given to
    # another step: the keys of follow-ups hold it.
    position = models.PositiveSmallIntegerField(editable=False)
    action = models.CharField("what to do", max_length=200)
    count = models.PositiveSmallIntegerField("how many", validators=[MaxValueValidator(520)])
    unit = models.CharField("of what", max_length=20, choices=Unit)
    # How often: every ``count`` units, at most so many times.
    times = models.PositiveSmallIntegerField(
        "at most so many times",
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(24)],
    )
    # The draft of a letter; both empty: none.
    letter_subject = models.CharField("subject of the letter", max_length=200, blank=True)
    letter_text = models.TextField("text of the letter", blank=True)

    objects: Any = PlanStepQuerySet.as_manager()

    class Meta:
        ordering = ["trigger", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "edition", "trigger", "position"], name="plan_unique"
            )
        ]

    def __str__(self) -> str:
        return self.action

    def clean(self) -> None:
        super().clean()
        wrong = {}
        self.action = " ".join((self.action or "").split())
        if self.unit in OF_EXPECTED_MONEY and self.trigger != Trigger.NO_BUDGET:
            wrong["unit"] = "Money is expected only after “no budget yet”; choose another unit."
        if self.count == 0 and (self.times or 0) > 1:
            wrong["count"] = "What comes again needs at least 1 in between."
        self.letter_subject = " ".join((self.letter_subject or "").split())
        self.letter_text = (self.letter_text or "").strip()
        if self.letter_text and not self.letter_subject:
            wrong["letter_subject"] = "Give the letter a subject, or leave its text empty too."
        if self.letter_subject and not self.letter_text:
            wrong["letter_text"] = "Give the letter a text, or leave its subject empty too."
        for name in ("letter_subject", "letter_text"):
            if words := wrong_blanks(getattr(self, name)):
                wrong[name] = words
        if wrong:
            raise ValidationError(wrong)
