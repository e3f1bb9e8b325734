"""A row that is edited in forms, and what happens when two people do so at once."""

from __future__ import annotations

from django.db import models
from django.db.models import F


class Stale(Exception):
    """Somebody else saved the row since the form was opened."""

    def __init__(self, row: models.Model) -> None:
        super().__init__(f"{row} was changed by somebody else")
        self.row = row


class Versioned(models.Model):
    """A row that is edited in forms; its version travels with each of them."""

    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True

    def save_version(self, expected: int) -> None:
        """Save this row if its stored version is still ``expected``; else raise ``Stale``.

        One conditional UPDATE: of two writers with the same version exactly one succeeds.
        """
        values = {
            field.attname: getattr(self, field.attname)
            for field in self._meta.concrete_fields
            if not field.primary_key and field.attname != "version"
        }
        rows = type(self)._base_manager.filter(pk=self.pk, version=expected)
        if not rows.update(version=F("version") + 1, **values):
            raise Stale(self)
        self.version = expected + 1
