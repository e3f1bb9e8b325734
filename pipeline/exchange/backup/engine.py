"""What is asked of each database; one module for each answers."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Protocol

from django.db import connection

from . import on_postgresql, on_sqlite
from .contents import Ask, Columns
from .manifest import Manifest

Say = Callable[[str], None]


class Engine(Protocol):
    """A database as a backup sees it."""

    # What its copy is called in the archive.
    MEMBER: str

    def version(self) -> tuple[int, str]:
        """Return what a backup must fit: the server's version, the schema."""

    def columns(self, ask: Ask) -> Columns:
        """Return the tables and columns that are there."""

    def dumped(
        self, folder: Path, say: Say, programs: Path | None
    ) -> AbstractContextManager[tuple[Path, Ask]]:
        """Copy it as it is at one moment; return the copy, and whom to ask about that moment."""

    def there(self) -> AbstractContextManager[Ask | None]:
        """Give whom to ask about it as it is now; ``None``: there is none yet."""

    def staging(self) -> Path | None:
        """Return where a new one must wait; ``None``: anywhere."""

    def refuse_here(self, manifest: Manifest) -> None:
        """Refuse what can't be restored here."""

    def switched(
        self, staged: Path, manifest: Manifest, migrate: Callable[[], None], programs: Path | None
    ) -> AbstractContextManager[None]:
        """Put a new one in the place of the old, for good once the block is over."""


def engine() -> Engine:
    """Return what knows the database in use."""
    return on_postgresql if connection.vendor == "postgresql" else on_sqlite
