"""SQLite: copied while others write, by its own means; put in its place in one step."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from django.db import connection

from pipeline.teams.refused import Refused

from .archive import DAMAGED
from .contents import Ask, Columns, rows
from .manifest import Manifest

MEMBER = "database.sqlite3"
COLUMNS = (
    "SELECT m.name, c.name FROM sqlite_master m, pragma_table_info(m.name) c"
    " WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite\\_%' ESCAPE '\\'"
)
# So many pages at a time, between which it tells how far it is.
PAGES = 20_000
IN_USE = "The program still uses the database: stop it (and its workers), then restore."

Say = Callable[[str], None]


def version() -> tuple[int, str]:
    """Return nothing: any SQLite reads what another wrote."""
    return 0, ""


def columns(ask: Ask) -> Columns:
    """Return the tables and columns that are there."""
    return {(table, column) for table, column in ask(COLUMNS)}


@contextmanager
def dumped(folder: Path, say: Say, programs: Path | None) -> Iterator[tuple[Path, Ask]]:
    """Copy the database as it is at one moment; return the copy, and whom to ask about it."""
    copy = folder / MEMBER
    # One that is not there is not made by this.
    present = f"{_file().absolute().as_uri()}?mode=rw"
    with closing(sqlite3.connect(present, uri=True, isolation_level=None)) as source:
        # One reader for the whole time: what others write meanwhile makes it begin anew never.
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM sqlite_master")
        with closing(sqlite3.connect(copy, isolation_level=None)) as target:

            def told(status: int, remaining: int, total: int) -> None:
                if remaining:
                    say(f"copied {100 - 100 * remaining // total}% of the database")

            source.backup(target, pages=PAGES, progress=told)
            target.execute("PRAGMA journal_mode=DELETE")
            # What was erased before is then in no free page of the copy.
            target.execute("VACUUM")
            yield copy, _asking(target)


@contextmanager
def there() -> Iterator[Ask | None]:
    """Give whom to ask about the present database; ``None``: there is none yet."""
    if not _file().exists():
        yield None
        return
    with closing(sqlite3.connect(_file())) as present:
        yield _asking(present)


def staging() -> Path | None:
    """Return the folder in which the new database waits: on the same disk as the old one."""
    return _file().parent


def refuse_here(manifest: Manifest) -> None:
    """Refuse nothing: what there is to check, the copy itself tells."""


@contextmanager
def switched(
    staged: Path, manifest: Manifest, migrate: Callable[[], None], programs: Path | None
) -> Iterator[None]:
    """Check and migrate the staged database, then put it in the place of the old one.

    The old one is kept aside until the block is over, and comes back where it fails.
    """
    _check(staged, manifest)
    with _pointed_at(staged):
        migrate()
    _whole(staged)
    file = _file()
    aside = staged.with_name("aside.sqlite3")
    connection.close()
    if file.exists():
        _whole(file)
        _keep(file, aside)
    os.replace(staged, file)
    try:
        yield
    except BaseException:
        connection.close()
        if aside.exists():
            os.replace(aside, file)
        else:
            file.unlink()
        raise
    # What stands aside goes with the folder in which it was staged.


def _file() -> Path:
    return Path(connection.settings_dict["NAME"])


def _asking(asked: sqlite3.Connection) -> Ask:
    return lambda question: asked.execute(question).fetchall()


def _check(staged: Path, manifest: Manifest) -> None:
    try:
        with closing(sqlite3.connect(staged)) as found:
            (said,) = found.execute("PRAGMA quick_check(1)").fetchone()
            ask = _asking(found)
            whole = said == "ok" and rows(ask, columns(ask)) == manifest.rows
    except sqlite3.Error:
        whole = False
    if not whole:
        raise Refused(DAMAGED.format("its database is not what its list says"))


@contextmanager
def _pointed_at(file: Path) -> Iterator[None]:
    """Let the program work on another file in the block."""
    before = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = str(file)
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = before


def _whole(file: Path) -> None:
    """Bring all of a database into its one file, which only works while nobody else uses it."""
    try:
        with closing(sqlite3.connect(file, timeout=2, isolation_level=None)) as found:
            (mode,) = found.execute("PRAGMA journal_mode=DELETE").fetchone()
    except sqlite3.OperationalError:
        raise Refused(IN_USE) from None
    if mode != "delete":
        raise Refused(IN_USE)


def _keep(file: Path, aside: Path) -> None:
    """Let ``file`` be found under a second name; where the disk knows no such thing, copy it."""
    with suppress(OSError):
        os.link(file, aside)
        return
    shutil.copyfile(file, aside)
