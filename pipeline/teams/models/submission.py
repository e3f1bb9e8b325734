"""A form that was already received: the second click changes nothing."""

from django.db import models

from .owned import TeamOwned


class Submission(TeamOwned):
    """One form, by the key that travelled in it, and where it led."""

    key = models.UUIDField()
    url = models.CharField(max_length=300)
    received_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "key"], name="submission_unique")]

    def __str__(self) -> str:
        return str(self.key)
