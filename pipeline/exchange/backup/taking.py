"""Take a backup: the database as it is at one moment, and every upload that it names."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.db import connection

from pipeline.teams.refused import Refused

from . import contents
from .archive import UPLOADS, Writer, is_plain
from .engine import Say, engine
from .manifest import Manifest, key_mark

# An upload that goes away between the dump and its copy has the backup begin anew, so often.
TRIES = 5
# So many uploads are copied between two words of how far it is.
STEP = 500


def take_backup(path: Path, *, now: datetime, say: Say, programs: Path | None = None) -> Manifest:
    """Write everything to ``path``, which is not there yet and appears only when it is whole.

    It may be taken while others write. Raises ``Refused`` where it can't be taken.
    """
    if path.exists() or path.is_symlink():
        raise Refused(f"{path} is there already, and is not overwritten; give another name.")
    with TemporaryDirectory(prefix=f".{path.name}.", dir=path.parent) as folder:
        for attempt in range(TRIES):
            draft = Path(folder) / f"draft-{attempt}"
            manifest = _written(draft, now, say, programs)
            if manifest is not None:
                _put(draft, path)
                return manifest
            draft.unlink()
            say("Uploads went away meanwhile; beginning anew.")
    raise Refused("Uploads went away again and again meanwhile; try at a quieter hour.")


def _written(draft: Path, now: datetime, say: Say, programs: Path | None) -> Manifest | None:
    """Write the archive; ``None``: uploads that the database had named went away meanwhile."""
    of = engine()
    writer = Writer(draft)
    try:
        say("Copying the database.")
        with of.dumped(draft.parent, say, programs) as (dump, ask):
            columns = of.columns(ask)
            rows = contents.rows(ask, columns)
            migrations = contents.migrations(ask, columns)
            named = contents.named_files(ask, columns)
        if not rows.get("django_migrations"):
            raise Refused("The database is empty: there is nothing to keep.")
        with dump.open("rb") as source:
            writer.add(of.MEMBER, source, pack=connection.vendor == "sqlite")
        dump.unlink()
        _add_uploads(writer, say)
        lost = {name for name in named if UPLOADS + name not in writer.members}
        if lost:
            with of.there() as now_there:
                still = contents.named_files(now_there, columns) if now_there else set()
            if lost - still:
                return None
        server, schema = of.version()
        manifest = Manifest(
            program=settings.VERSION,
            made_at=now,
            database=connection.vendor,
            server=server,
            schema=schema,
            key=key_mark(),
            migrations=migrations,
            rows=rows,
            members=writer.members,
            lost=tuple(sorted(lost)),
        )
        writer.finish(manifest)
        return manifest
    finally:
        writer.close()


def _add_uploads(writer: Writer, say: Say) -> None:
    say("Copying the uploads.")
    for count, (name, path) in enumerate(_uploads(Path(settings.MEDIA_ROOT)), 1):
        if not is_plain(name):
            say(f"Left out, as no upload has such a name: {name!r}.")
            continue
        # It may have been removed since it was listed.
        with suppress(FileNotFoundError), path.open("rb") as source:
            writer.add(UPLOADS + name, source)
        if count % STEP == 0:
            say(f"Copied {count} uploads.")


def _uploads(root: Path) -> Iterator[tuple[str, Path]]:
    for folder, folders, names in os.walk(root):
        folders.sort()
        for name in sorted(names):
            path = Path(folder) / name
            if path.is_file() and not path.is_symlink():
                yield path.relative_to(root).as_posix(), path


def _put(draft: Path, path: Path) -> None:
    """Give the finished file its name, unless another has it by now."""
    try:
        os.link(draft, path)
    except FileExistsError:
        raise Refused(f"{path} is there by now, and is not overwritten.") from None
    except OSError:
        # A disk without second names.
        os.rename(draft, path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
