"""The way from a row's page to what was changed in it."""

from __future__ import annotations

from typing import Any

from django import template
from django.db import models
from django.urls import reverse

from pipeline.teams.models import Team

register = template.Library()


@register.inclusion_tag("history/_fold.html")
def changes_of(row: models.Model, team: Team) -> dict[str, Any]:
    """Show a fold that fetches the row's changes when it is opened; a link without script."""
    return {"address": changes_address(row, team)}


@register.simple_tag
def changes_address(row: models.Model, team: Team) -> str:
    """Return the address of a row's changes."""
    return reverse("changes", args=[team.slug, f"{row._meta.label_lower}-{row.pk}"])
