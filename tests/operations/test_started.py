"""The very commands of docker-compose.yml, started here on PostgreSQL and Redis of this machine.

They run from nothing but the files that go into the image.

A letter goes the whole way: written beside its cause, a worker woken, handed to a mail server.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest
from aiosmtpd.controller import Controller

from tests.operations.compose import Here, compose, unpack
from tests.operations.test_compose_file import SECRETS
from tests.postgres import address

pytestmark = pytest.mark.services

# For a busy machine; nothing waits this long that is not broken.
PATIENCE = 90
TO = "olive@harbour.example"
WRITE_A_LETTER = f"""
from pipeline.clock.moment import now
from pipeline.exchange.founding import found_team
from pipeline.locks.asking import as_team
from pipeline.mail.outbox import write
team, owner = found_team(name="Harbour Studio", slug="harbour", owner_email="{TO}",
                         timezone="Europe/Lisbon", country="PT", now=now())
with as_team(team.pk):
    write(team=team, member=owner, key="hello", to="{TO}", subject="Hello", text="Hi.",
          due_at=now())
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def eventually(holds: Callable[[], object], what: str) -> None:
    until = time.monotonic() + PATIENCE
    while not holds():
        assert time.monotonic() < until, f"in vain: {what}"
        time.sleep(0.2)


class Sink:
    """A mail server that takes everything and remembers it."""

    def __init__(self) -> None:
        self.taken: list[tuple[str, str]] = []

    async def handle_DATA(self, server, session, envelope) -> str:
        (to,) = envelope.rcpt_tos
        self.taken.append((to, envelope.content.decode()))
        return "250 taken"


@pytest.fixture(scope="module")
def server() -> str:
    """Return the address of PostgreSQL; its absence and that of Redis are no reason to pass."""
    found = address()
    if found is None or not shutil.which("redis-server"):
        pytest.fail("PostgreSQL or redis-server is missing; script/test leaves this out then.")
    return found


@pytest.fixture(scope="module")
def database(server: str) -> Iterator[str]:
    """Make a database of this run's own."""
    name = f"pipeline_composed_{os.getpid()}"
    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        yield f"{server}/{name}"
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def as_bound(database: str) -> str:
    """Return the address at which pages and workers sign in, as the set-up lets them."""
    where = urlsplit(database)
    login = f"pipeline_app:{SECRETS['POSTGRES_APP_PASSWORD']}"
    return f"postgres://{login}@{where.hostname}:{where.port}{where.path}"


@pytest.fixture(scope="module")
def sink() -> Iterator[tuple[Sink, str]]:
    taken, port = Sink(), free_port()
    controller = Controller(taken, hostname="127.0.0.1", port=port)
    controller.start()
    yield taken, f"smtp://127.0.0.1:{port}"
    controller.stop()


@pytest.fixture(scope="module")
def services(sink) -> dict:
    return compose({**SECRETS, "EMAIL_URL": sink[1], "METRICS_TOKEN": "a-token-of-more-than-16"})[
        "services"
    ]


@pytest.fixture(scope="module")
def here(server, database, services, tmp_path_factory) -> Iterator[Here]:
    """Start all of it in the order of the file; nothing of it is left in the end."""
    folder = tmp_path_factory.mktemp("composed")
    (folder / "app").mkdir()
    port, postgres = free_port(), urlsplit(server)
    machine = Here(
        {
            services["set-up"]["environment"]["DATABASE_URL"]: database,
            services["web"]["environment"]["DATABASE_URL"]: as_bound(database),
            "@redis:6379/": f"@127.0.0.1:{port}/",
            "redis-server ": f"redis-server --bind 127.0.0.1 --port {port} ",
            "redis-cli ": f"redis-cli -p {port} ",
            "--host 127.0.0.1": f"--host {postgres.hostname} --port {postgres.port}",
            "0.0.0.0": "127.0.0.1",
        },
        folder,
        unpack(folder / "app"),
    )
    try:
        machine.start("redis", services["redis"])
        for name in ("db", "redis"):
            eventually(lambda: machine.check(services[name]), name)  # noqa: B023
        machine.start("set-up", services["set-up"])
        said = folder / "set-up"
        assert machine.running.pop("set-up").wait(PATIENCE) == 0, said.read_text()
        for name in ("web", "worker", "beat"):
            own = services[name]["environment"]
            own["ALIVE_FILE"] = str(folder / f"{name}.alive")
            own["PORT"] = str(free_port())
            machine.start(name, services[name])
        yield machine
    finally:
        for name in list(machine.running):
            machine.kill(name)


def test_each_service_is_well_and_a_letter_goes_the_whole_way(here, services, sink, database):
    for name in ("web", "worker", "beat"):
        eventually(lambda: here.check(services[name]), name)  # noqa: B023

    web = here.environment(services["web"])
    with urllib.request.urlopen(f"http://127.0.0.1:{web['PORT']}/readyz", timeout=10) as answer:
        ready = json.load(answer)
    assert ready == {
        "ready": True,
        "database": "ok: answers",
        "migrations": "ok: all applied",
        "due work": "ok: nothing waits",
        "broker": "ok: answers",
    }

    subprocess.run(
        ["python", "manage.py", "shell", "--no-imports", "-c", WRITE_A_LETTER],
        cwd=here.app,
        env=web,
        check=True,
    )
    taken, _ = sink
    eventually(lambda: taken.taken, "the letter")
    ((to, message),) = taken.taken
    assert to == TO
    assert "Auto-Submitted: auto-generated" in message

    def sent() -> object:
        with psycopg.connect(database) as connection:
            return connection.execute("SELECT sent_at FROM mail_letter").fetchone()[0]

    eventually(sent, "its mark")
    lines = (here.said / "worker").read_text().splitlines()
    # Beside its log Python warns of a worker that runs as root, as tests may.
    told = [json.loads(line) for line in lines if line.startswith("{")]
    assert ("drain", "done") in {(line.get("task"), line.get("status")) for line in told}
    for name in ("web", "worker", "beat"):
        assert "harbour" not in (here.said / name).read_text().lower()


@pytest.mark.parametrize("name", ["web", "worker", "beat", "redis"])
def test_its_health_check_fails_as_soon_as_a_service_is_dead(here, services, name):
    eventually(lambda: here.check(services[name]), name)
    here.kill(name)
    assert not here.check(services[name])


def test_the_check_of_the_database_fails_where_none_answers(here, services):
    elsewhere = Here({"--host 127.0.0.1": f"--host 127.0.0.1 --port {free_port()}"}, here.said)
    assert here.check(services["db"])
    assert not elsewhere.check(services["db"])


@pytest.mark.parametrize("name", ["worker", "beat"])
def test_a_process_that_hangs_is_not_well(tmp_path: Path, services, name):
    file = tmp_path / "alive"
    own = {**services[name], "environment": {"ALIVE_FILE": str(file)}}
    machine = Here({}, tmp_path)
    assert not machine.check(own)
    file.write_text(f"{os.getpid()}\n")
    assert machine.check(own)
    long_ago = time.time() - 5 * 60
    os.utime(file, (long_ago, long_ago))
    assert not machine.check(own)
