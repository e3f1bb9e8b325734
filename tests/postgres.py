"""Where the tests find PostgreSQL: ``python -m tests.postgres`` prints an address, or fails."""

import os
import sys
from urllib.parse import quote

import psycopg

# Django 5.2 needs PostgreSQL 14.
OLDEST = 140000


def address() -> str | None:
    """Return the address of a server here on which test databases and their role may be made.

    Follows PGHOST, PGPORT, PGUSER and PGPASSWORD where they are set.
    """
    host = os.environ.get("PGHOST", "127.0.0.1")
    port = os.environ.get("PGPORT", "5432")
    user = os.environ.get("PGUSER", "postgres")
    password = os.environ.get("PGPASSWORD", "")
    who = quote(user, safe="") + (f":{quote(password, safe='')}" if password else "")
    found = f"postgres://{who}@{quote(host, safe='')}:{port}"
    try:
        with psycopg.connect(f"{found}/postgres", connect_timeout=3) as connection:
            may = connection.execute(
                "SELECT rolsuper OR (rolcreatedb AND rolcreaterole)"
                " FROM pg_roles WHERE rolname = current_user"
            ).fetchone()
            if may and may[0] and connection.info.server_version >= OLDEST:
                return found
    except psycopg.Error:
        pass
    return None


if __name__ == "__main__":
    server = address()
    if server is None:
        sys.exit(1)
    sys.stdout.write(server + "\n")
