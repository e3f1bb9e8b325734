"""Restore a backup: all of it is checked first, and what was there is kept until it is done."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from sqlite3 import DatabaseError
from tempfile import TemporaryDirectory

from django.conf import settings
from django.core.management import call_command

from pipeline.mail.models import Letter, StoppedAddress
from pipeline.teams.models import Team
from pipeline.teams.refused import Refused
from pipeline.teams.templatetags.show import day

from .archive import UPLOADS, Archive, opened
from .contents import Ask, Columns
from .engine import Engine, Say, engine
from .manifest import Manifest, refuse_what_does_not_fit

# A letter that was due before the restore may be one that went out after the backup was made.
MAY_HAVE_GONE = (
    "Restored from the backup of {}: it may have gone out since then. Have it tried again only if "
    "it did not."
)


@dataclass(frozen=True)
class Restored:
    """What came back."""

    manifest: Manifest
    # Letters that may have gone out since the backup was made.
    held: int
    # Addresses that asked for no more letters since then, which stays known.
    stopped: int


def restore_backup(
    path: Path,
    *,
    now: datetime,
    say: Say,
    replace: bool = False,
    other_key: bool = False,
    programs: Path | None = None,
) -> Restored:
    """Put a backup in the place of the database and the uploads.

    Raises ``Refused`` with nothing changed where it is damaged, is none of ours, or does not fit
    here; or where there is something already and it is not to be ``replace``d.
    """
    of, uploads = engine(), Path(settings.MEDIA_ROOT)
    with ExitStack() as stack:
        say("Checking the backup.")
        with opened(path, of.MEMBER) as archive:
            manifest = archive.manifest
            refuse_what_does_not_fit(manifest, other_key=other_key)
            if not replace:
                _refuse_what_is_there(of, uploads)
            of.refuse_here(manifest)
            uploads.parent.mkdir(parents=True, exist_ok=True)
            beside = _staging(stack, uploads.parent)
            staged = (_staging(stack, home) if (home := of.staging()) else beside) / of.MEMBER
            _refuse_without_room(beside, staged.parent, manifest)
            _unpack(archive, of.MEMBER, staged, beside / "files", say)

        stops, held, stopped = _stops(of), 0, 0

        def migrate() -> None:
            nonlocal held, stopped
            say("Bringing its tables up to date.")
            call_command("migrate", verbosity=0, interactive=False)
            held = _hold_letters(manifest, now)
            stopped = _keep_stops(stops)

        say("Restoring the database.")
        with (
            of.switched(staged, manifest, migrate, programs),
            _switched(beside / "files", uploads, beside / "aside"),
        ):
            pass
    return Restored(manifest, held, stopped)


def _staging(stack: ExitStack, parent: Path) -> Path:
    folder = TemporaryDirectory(prefix=".restoring-", dir=parent, ignore_cleanup_errors=True)
    return Path(stack.enter_context(folder))


@contextmanager
def _present(of: Engine) -> Iterator[tuple[Ask, Columns] | None]:
    """Give whom to ask about what is there, and its columns; ``None``: nothing is there yet."""
    try:
        with of.there() as ask:
            yield (ask, of.columns(ask)) if ask else None
    except DatabaseError as error:
        raise Refused(
            f"The database that is there can't be read ({error}): move its file away, with those "
            "beside it of the same name, and restore again."
        ) from None


def _refuse_what_is_there(of: Engine, uploads: Path) -> None:
    used = False
    with _present(of) as present:
        if present and ("teams_user", "id") in present[1]:
            used = bool(present[0]("SELECT 1 FROM teams_user LIMIT 1"))
    if used:
        raise Refused(
            "The database of DATABASE_URL is in use by somebody; with --replace the backup takes "
            "its place. Take a backup of it first: what is not in one is then gone."
        )
    if uploads.is_dir() and any(path.is_file() for path in uploads.rglob("*")):
        raise Refused(
            f"There are uploads in {uploads}; with --replace those of the backup take their place."
        )


def _refuse_without_room(beside: Path, database: Path, manifest: Manifest) -> None:
    needed = sum(member.bytes for member in manifest.members.values())
    for folder in (beside, database):
        free = shutil.disk_usage(folder).free
        if free < needed:
            raise Refused(
                f"There is no room: the backup unpacked needs {needed / 1e6:,.0f} MB, and where "
                f"{folder.parent} lies {free / 1e6:,.0f} MB are free."
            )


def _unpack(archive: Archive, member: str, staged: Path, files: Path, say: Say) -> None:
    files.mkdir()
    archive.unpack(member, staged)
    for count, name in enumerate(sorted(set(archive.manifest.members) - {member}), 1):
        archive.unpack(name, files / name.removeprefix(UPLOADS))
        if count % 500 == 0:
            say(f"Unpacked {count} uploads.")


@contextmanager
def _switched(staged: Path, uploads: Path, aside: Path) -> Iterator[None]:
    """Put new uploads in the place of the old ones, which come back where the block fails."""
    had = uploads.exists()
    if had:
        os.rename(uploads, aside)
    try:
        os.rename(staged, uploads)
        yield
    except BaseException:
        with suppress(FileNotFoundError):
            os.rename(uploads, staged)
        if had:
            os.rename(aside, uploads)
        raise


def _hold_letters(manifest: Manifest, now: datetime) -> int:
    """Send none by itself that may have gone out; an owner sees them and has them tried again."""
    waiting = Letter.objects.filter(next_attempt_at__isnull=False, due_at__lte=now)
    said = MAY_HAVE_GONE.format(day(manifest.made_at))
    held: int = waiting.update(next_attempt_at=None, gave_up_at=now, last_error=said)
    return held


def _stops(of: Engine) -> list[tuple[int, str, str, datetime]]:
    """Return who has asked the teams that are there for no more letters."""
    with _present(of) as present:
        if present is None or ("mail_stoppedaddress", "address") not in present[1]:
            return []
        rows = present[0](
            "SELECT t.id, t.slug, s.address, s.stopped_at"
            " FROM mail_stoppedaddress s JOIN teams_team t ON t.id = s.team_id"
        )
    return [(team, slug, address, _in_utc(at)) for team, slug, address, at in rows]


def _in_utc(at: str | datetime) -> datetime:
    # SQLite keeps moments as texts, without their zone.
    return at if isinstance(at, datetime) else datetime.fromisoformat(at).replace(tzinfo=UTC)


def _keep_stops(stops: list[tuple[int, str, str, datetime]]) -> int:
    """Let nobody who has asked since get letters again; returns how many that were."""
    teams = set(Team.objects.values_list("pk", "slug"))
    before = StoppedAddress.objects.count()
    StoppedAddress.objects.bulk_create(
        [
            StoppedAddress(team_id=team, address=address, stopped_at=at)
            for team, slug, address, at in stops
            if (team, slug) in teams
        ],
        ignore_conflicts=True,
    )
    after: int = StoppedAddress.objects.count()
    return after - before
