"""Two processes that serve the test's own database, and somebody signed in at each of them.

Their clock is the real one. Each runs due work beside the pages, as on one machine.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.db import connection

from pipeline.teams.models import Member, Role, Team, User
from tests.faults.browser import OWNER, PASSWORD, Browser
from tests.faults.processes import Program, free_port, wait_for
from tests.followups.threads import at_once

UP = "up"
# What this shell may have set for another purpose.
NOT_HERE = ("REDIS_URL", "EMAIL_URL", "EMAIL_FROM", "BASE_URL", "HOST", "GUNICORN_CMD_ARGS")


def address_of_database() -> str:
    """Return where another process finds the database of this test."""
    name = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite":
        return f"sqlite:///{name}"
    return urlsplit(os.environ["DATABASE_URL"])._replace(path=f"/{name}").geturl()


@contextmanager
def two_servers(folder: Path, team: Team) -> Iterator[list[Browser]]:
    """Start two web servers; give a browser for each, in which an owner of ``team`` is signed in.

    Both are gone at the end of the block.
    """
    user = User.objects.create_user(OWNER, name="Ona", password=PASSWORD)
    Member.objects.create(team=team, user=user, role=Role.OWNER)
    with ExitStack() as ending:
        browsers, started = [], []
        for number in range(2):
            port = free_port()
            server = _serve(f"server{number}", folder, port)
            ending.callback(server.kill)
            started.append(server)
            browsers.append(Browser(f"http://127.0.0.1:{port}"))
        for server in started:
            wait_for("a web server", lambda server=server: _is_up(server), seconds=20)
            assert server.process.poll() is None, server.last_words()
        # One after the other: of two at once whoever asked first may be told to wait a second.
        for browser in browsers:
            browser.sign_in()
        yield browsers
        # Both are told before either is waited for.
        for server in started:
            server.process.terminate()
        for server in started:
            server.stop(seconds=10)


def _serve(name: str, folder: Path, port: int) -> Program:
    kept = {word: value for word, value in os.environ.items() if word not in NOT_HERE}
    return Program(
        name,
        (sys.executable, "-m", "gunicorn", "--config", "pipeline/server.py"),
        folder,
        env={
            **kept,
            "DATABASE_URL": address_of_database(),
            "SECRET_KEY": settings.SECRET_KEY,
            "DEMO": "off",
            "PORT": str(port),
            "WEB_CONCURRENCY": "1",
            "WELCOME": UP,
        },
    )


def _is_up(server: Program) -> bool:
    """Tell whether it listens, or never will."""
    return server.has_said(UP) or server.process.poll() is not None


def post_at_once(browsers: list[Browser], path: str, forms: list[dict[str, str]]) -> list[int]:
    """Post all ``forms`` at the same moment, by turns at each server; return their answers."""
    token = "csrfmiddlewaretoken"
    own = [{token: browser.form("/account/")[token]} for browser in browsers]
    answers = [0] * len(forms)

    def posting(number: int) -> Callable[[], None]:
        def post() -> None:
            at = number % len(browsers)
            answers[number] = browsers[at].post(path, forms[number] | own[at])

        return post

    assert at_once(*map(posting, range(len(forms)))) == []
    return answers
