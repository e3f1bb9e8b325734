"""For whom the database is asked: a team, a person, whoever bears a token, or nobody yet.

On PostgreSQL the answer stands in settings of the transaction, which the policies read
(on_postgresql.py); so all of this opens a transaction where none is open. On SQLite it does
nothing. The statements go past Django's count of queries: they are no questions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from contextvars import ContextVar
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from psycopg import sql

# Team, person, token, and whether what waits of every team may be counted.
Asker = tuple[str, str, str, str]
NOBODY: Asker = ("", "", "", "")
ASKER = ("pipeline.team", "pipeline.user", "pipeline.token", "pipeline.watching")

_asker: ContextVar[Asker] = ContextVar("asker", default=NOBODY)
_locked: ContextVar[bool] = ContextVar("locked", default=False)


@contextmanager
def one_transaction() -> Iterator[None]:
    """Make the block one transaction, on PostgreSQL; on SQLite others would wait for its end."""
    with ExitStack() as stack:
        if connection.vendor == "postgresql" and not connection.in_atomic_block:
            stack.enter_context(transaction.atomic())
        yield


def as_team(team: int) -> Any:
    """Ask for this team in the block: its rows alone are seen, and may be written."""
    return _asking((str(team), "", "", ""))


def as_user(user: int | None) -> Any:
    """Ask for this person in the block: their memberships alone are seen."""
    return _asking(("", str(user or ""), "", ""))


def as_bearer(token: str) -> Any:
    """Ask for whoever brings ``token`` in the block: the row that it opens alone is seen."""
    # PostgreSQL has no text with a NUL, and no token has one.
    return _asking(("", "", token.replace("\0", ""), ""))


def as_watcher() -> Any:
    """Ask for nobody, to count due work in the block: the queues of all teams are seen."""
    return _asking(("", "", "", "on"))


@contextmanager
def _asking(asker: Asker) -> Iterator[None]:
    if connection.vendor != "postgresql":
        yield
        return
    outermost = not connection.in_atomic_block
    with one_transaction():
        before = _asker.set(asker)
        _tell(asker)
        try:
            yield
        finally:
            _asker.reset(before)
            # They end with the transaction.
            if not outermost:
                _tell(_asker.get())


def _tell(asker: Asker) -> None:
    tell_transaction(dict(zip(ASKER, asker, strict=True)))


def tell_transaction(told: dict[str, str]) -> None:
    """Tell the open transaction what policies and triggers ask it, by the names of settings.

    It ends with the transaction. One that failed takes in nothing more: it is rolled back, and
    what it was told with it.
    """
    driver = connection.connection
    if driver is None or driver.closed or driver.info.transaction_status.name == "INERROR":
        return
    each = ", ".join(["set_config(%s, %s, true)"] * len(told))
    with connection.wrap_database_errors:
        driver.execute(f"SELECT {each}", [part for pair in told.items() for part in pair])


@contextmanager
def locked() -> Iterator[None]:
    """Take the role that policies bind, for the block and for each connection made in it.

    Where the program signs in with that role, it has no other; where it signs in as the owner of
    the tables, as on one machine and in tests, the owner's rights end here.
    """
    if connection.vendor != "postgresql" or _locked.get():
        yield
        return
    before = _locked.set(True)
    try:
        if connection.connection is not None:
            take_role(connection)
        yield
    finally:
        _locked.reset(before)
        _leave_role()


def take_role(connection: Any, **kwargs: Any) -> None:
    """Let a connection have the role that is due here, whatever it had in the pool."""
    if connection.vendor != "postgresql" or _signs_in_bound(connection):
        return
    role = sql.Identifier(settings.APP_ROLE) if _locked.get() else sql.SQL("NONE")
    with connection.wrap_database_errors:
        connection.connection.execute(sql.SQL("SET ROLE {}").format(role))


def _leave_role() -> None:
    driver = connection.connection
    if driver is None or driver.closed or driver.info.transaction_status.name == "INERROR":
        # The next one made takes its role anew; in a transaction that failed nothing is kept.
        return
    try:
        take_role(connection)
    except DatabaseError:
        connection.close()


def _signs_in_bound(connection: Any) -> bool:
    return bool(connection.connection.info.user == settings.APP_ROLE)


def lock_requests(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Answer every request under the role that policies bind."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        with locked():
            return get_response(request)

    return middleware
