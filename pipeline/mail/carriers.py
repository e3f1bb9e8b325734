"""What takes letters on their way."""

from __future__ import annotations

from typing import Protocol

from .models import Letter


class RefusedForGood(Exception):
    """The server will never take this letter: trying again is of no use."""


class Carrier(Protocol):
    """Takes letters on their way; raises where it could not."""

    def carry(self, letter: Letter) -> None:
        """Return once the letter is taken; raise ``RefusedForGood`` where it never can be."""

    def close(self) -> None:
        """Let go of what is held open."""


class Kept:
    """Keeps letters in the app, where the pages of letters show them: nothing leaves it."""

    def carry(self, letter: Letter) -> None:
        """Do nothing: the row is the letter."""

    def close(self) -> None:
        """Do nothing."""
