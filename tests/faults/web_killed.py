"""The web server killed while forms are being saved; what was acknowledged is there, once."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from urllib.request import urlopen

from .broker import Broker
from .browser import GONE
from .ledger import Ledger
from .processes import Program, free_port, wait_for
from .rig import Outcome, Rig
from .typist import Typist, into
from .watched import Hand

NAME = "web-killed"
# About as long as a form takes.
FORM = 0.06


def run(rig: Rig) -> Outcome:
    """Kill now one process that serves pages, now all of them."""
    kills = rig.scale(100, 3)
    folder = rig.folder / "web_killed"
    folder.mkdir()
    rig.cluster.make("web_killed", like="empty")
    broker = Broker(folder)
    rig.ending.callback(broker.kill)
    broker.start()
    port = free_port()
    env = rig.env(
        DATABASE_URL=rig.cluster.url("web_killed", "web"),
        REDIS_URL=broker.url,
        PORT=str(port),
        WEB_CONCURRENCY="2",
    )
    hand = Hand(rig, folder, Ledger(), env)
    hand.ask("team")
    hand.finish()
    web = serve(rig, folder, env, "pipeline/server.py")
    url = f"http://127.0.0.1:{port}"
    wait_for("the web server", lambda: answers(url))
    typists = [Typist(f"typist {n}", url, rig.seed + n) for n in range(3)]
    for typist in typists:
        typist.start()
    for struck in range(1, kills + 1):
        before = forms(typists)
        wait_for("forms to be stored", lambda before=before: forms(typists) > before + 2)
        typist = rig.chance.choice(typists)
        wait_for("somebody who saves a form", typist.posting.is_set)
        time.sleep(rig.chance.random() * FORM)
        if rig.chance.random() < 0.5:
            web.kill()
            web = serve(rig, folder, env, "pipeline/server.py")
        else:
            for pid in rig.chance.sample(web.children(), k=min(1, len(web.children()))):
                os.kill(pid, signal.SIGKILL)
        wait_for("the web server", lambda: answers(url))
        if struck % 20 == 0:
            rig.say(f"{struck} kills, {forms(typists)} forms")
    for typist in typists:
        typist.end()
    web.stop()
    broker.kill()
    rows = rig.cluster.ask("web_killed", "SELECT organisation FROM leads_lead")
    ledger = Ledger()
    into(ledger, typists, [name for (name,) in rows])
    return Outcome("forms", kills, ledger.count())


def forms(typists: list[Typist]) -> int:
    """Return how many forms were acknowledged."""
    return sum(len(typist.acknowledged) for typist in typists)


def serve(rig: Rig, folder: Path, env: dict[str, str], settings: str) -> Program:
    """Start the web server."""
    gunicorn = (sys.executable, "-m", "gunicorn", "--no-control-socket", "--config", settings)
    web = Program("web", gunicorn, folder, env=env)
    rig.ending.callback(web.kill)
    return web


def answers(url: str) -> bool:
    """Tell whether the web server serves pages."""
    try:
        with urlopen(f"{url}/sign-in/", timeout=10):
            return True
    except GONE:
        return False
