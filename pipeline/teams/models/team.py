"""A team: the tenant, its zone, working week, money and limit of free hours."""

from __future__ import annotations

import re
import secrets
from datetime import date, datetime, time
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from pipeline.clock.workdays import WorkCalendar, country_codes, days_between
from pipeline.clock.zones import local_day, zone_names
from pipeline.teams.money import check_currency

from .versioned import Versioned

COLOUR = re.compile(r"#[0-9a-f]{6}", re.IGNORECASE)
LEAST_CONTRAST = 4.5


def check_zone(value: str) -> None:
    """Raise ``ValidationError`` unless ``value`` names an IANA time zone."""
    if value not in zone_names():
        raise ValidationError("Name a time zone such as Europe/Lisbon.")


def check_country(value: str) -> None:
    """Raise ``ValidationError`` unless holidays are known for the ISO 3166 code ``value``."""
    if value not in country_codes():
        raise ValidationError("Name a country by its two capital letters, such as PT.")


def check_weekdays(value: Any) -> None:
    """Raise ``ValidationError`` unless ``value`` lists one to seven different weekdays."""
    if (
        not isinstance(value, list)
        or not value
        or len(set(value)) != len(value)
        or not set(value) <= set(range(7))
    ):
        raise ValidationError("Choose one to seven weekdays, 0 for Monday to 6 for Sunday.")


def check_days_off(value: Any) -> None:
    """Raise ``ValidationError`` unless ``value`` lists spans of days as [first, last, name]."""
    try:
        spans = [(date.fromisoformat(first), date.fromisoformat(last)) for first, last, _ in value]
    except (TypeError, ValueError):
        raise ValidationError("Give each span as its first day, last day and name.") from None
    if any(last < first for first, last in spans):
        raise ValidationError("A span of days off must end on or after its first day.")


def check_colour(value: str) -> None:
    """Raise ``ValidationError`` unless ``value`` is a colour in which words can be read on white.

    The contrast of WCAG 2.2 (relative luminance, success criterion 1.4.3) is 4.5 to 1 or more.
    """
    if not COLOUR.fullmatch(value):
        raise ValidationError("Give a colour as # and six digits of 0 to f, such as #23594b.")
    parts = [int(value[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    if 1.05 / (0.2126 * red + 0.7152 * green + 0.0722 * blue + 0.05) < LEAST_CONTRAST:
        raise ValidationError("Words in this colour can't be read on white; choose a darker one.")


def logo_at(team: Team, filename: str) -> str:
    """Return where a logo is kept; nothing of the given name but its ending.

    No name comes back for another file, so that a backup may copy files after the database.
    """
    ending = "jpg" if filename.lower().endswith(("jpg", "jpeg")) else "png"
    return f"team-{team.pk}/logo-{secrets.token_hex(8)}.{ending}"


def monday_to_friday() -> list[int]:
    """Return the default working week."""
    return [0, 1, 2, 3, 4]


class Team(Versioned):
    """A small agency; its rows are never seen by another team."""

    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=60, unique=True)
    timezone = models.CharField(max_length=64, default="UTC", validators=[check_zone])
    # Empty: no public holidays are kept.
    country = models.CharField(max_length=2, blank=True, validators=[check_country])
    subdivision = models.CharField(max_length=8, blank=True)
    working_days = models.JSONField(default=monday_to_friday, validators=[check_weekdays])
    # Spans of days, both included, on which nobody works: [first, last, name].
    days_off = models.JSONField(default=list, blank=True, validators=[check_days_off])
    # Local hours of work, in which sessions are offered; a contact's are taken to be the same on
    # their own clock. Nine to five is common practice, no source.
    day_starts = models.TimeField("day starts", default=time(9))
    day_ends = models.TimeField("day ends", default=time(17))
    currency = models.CharField(max_length=3, default="EUR", validators=[check_currency])
    digest_hour = models.PositiveSmallIntegerField(
        default=8, validators=[MaxValueValidator(23)], help_text="Local hour, 0 to 23."
    )
    weekly_free_minutes = models.PositiveIntegerField(
        "free minutes a week",
        default=240,
        validators=[MinValueValidator(1)],
        help_text="Booking warns when a week's free sessions pass this.",
    )
    # In percent. Where a waiting lead's chance to return in the next 90 days is surely below it,
    # writing has stopped paying.
    least_chance = models.PositiveSmallIntegerField(
        "least chance worth a letter",
        default=5,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
    )

    # NULL: people are kept until somebody removes them.
    retention_months = models.PositiveSmallIntegerField(
        "months after which people are to be erased",
        null=True,
        blank=True,
        validators=[MinValueValidator(6), MaxValueValidator(600)],
    )
    # Members without a second factor are led to set one up before anything else.
    requires_second_factor = models.BooleanField(default=False, editable=False)

    # What documents of the team are dressed in.
    colour = models.CharField(max_length=7, default="#23594b", validators=[check_colour])
    logo = models.FileField(upload_to=logo_at, blank=True, max_length=200, editable=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        super().clean()
        if self.day_starts and self.day_ends and self.day_ends <= self.day_starts:
            raise ValidationError({"day_ends": "The day must end after it starts."})
        known = country_codes().get(self.country, [])
        if self.subdivision and self.subdivision not in known:
            named = ", ".join(known) or "none"
            raise ValidationError(
                {"subdivision": f"Not a subdivision of {self.country or 'no country'}: {named}."}
            )

    def today(self, now: datetime) -> date:
        """Return the team's local day at ``now``."""
        return local_day(now, self.timezone)

    def calendar(self) -> WorkCalendar:
        """Return the team's working days."""
        return WorkCalendar(
            country=self.country,
            subdivision=self.subdivision,
            weekdays=frozenset(self.working_days),
            days_off=frozenset(
                day
                for first, last, _ in self.days_off
                for day in days_between(date.fromisoformat(first), date.fromisoformat(last))
            ),
        )

    def week(self) -> WorkCalendar:
        """Return the team's weekdays alone, for people whose holidays nobody knows."""
        return WorkCalendar(weekdays=frozenset(self.working_days))

    def digest_time(self) -> time:
        """Return the local hour at which digests go out."""
        return time(self.digest_hour)
