"""The stamp in a form: for which team, since when, and by which words somebody agrees to letters.

Signed, so that it can't be made up; kept nowhere, so that opening the page writes nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core import signing

signer = signing.Signer(salt="pipeline.enquiries.stamp")

# Nobody reads the page and fills it in within three seconds; common practice, no source.
LEAST = timedelta(seconds=3)
MOST = timedelta(days=1)


@dataclass(frozen=True)
class Stamp:
    """What a page said of itself when it was opened."""

    team: int
    at: datetime
    agreement: str

    def __str__(self) -> str:
        said = [self.team, self.at.isoformat(), self.agreement]
        return signer.sign_object(said, compress=True)

    def is_quick(self, now: datetime) -> bool:
        """Tell whether the page was opened only just now."""
        return now - self.at < LEAST

    def is_old(self, now: datetime) -> bool:
        """Tell whether the page was opened too long ago."""
        return now - self.at > MOST


def read_stamp(text: str) -> Stamp | None:
    """Return what a stamp says; ``None`` for one that was not made here."""
    try:
        team, at, agreement = signer.unsign_object(text)
        return Stamp(team, datetime.fromisoformat(at), agreement)
    except (signing.BadSignature, ValueError, TypeError):
        return None
