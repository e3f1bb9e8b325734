"""What all faults share: a folder, a cluster with an empty database, chance, and an end."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from contextlib import ExitStack
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from .cluster import Cluster
from .ledger import Count
from .processes import ROOT, Broken

N = TypeVar("N", int, float)

SECRET = "of the faults, which keep no secrets at all"
# What this shell may have set for another purpose.
OURS = ("DATABASE_URL", "REDIS_URL", "EMAIL_URL", "EMAIL_FROM", "SECRET_KEY", "BASE_URL", "DEBUG")


@dataclass(frozen=True)
class Outcome:
    """What a fault did. ``of``: of what it is the count."""

    of: str
    struck: int
    count: Count


class Rig:
    """One run. What a fault starts ends with ``ending``, what it leaves to others with the run."""

    def __init__(self, folder: Path, *, seed: int, quick: bool, run: ExitStack) -> None:
        self.folder = folder
        self.seed = seed
        self.quick = quick
        self.chance = random.Random(seed)
        self._begun = time.monotonic()
        self.ending = self._run = run

    def begin(self, fault: str) -> None:
        """Say which fault comes next; its chance is the same whether others came before or not."""
        self.say(fault)
        self.chance = random.Random(f"{self.seed} {fault}")

    def scale(self, full: N, quick: N) -> N:
        """Return how much of something there is to be."""
        return quick if self.quick else full

    def say(self, words: str) -> None:
        """Tell whoever waits how far it is."""
        sys.stderr.write(f"{time.monotonic() - self._begun:7.1f} s  {words}\n")
        sys.stderr.flush()

    @cached_property
    def cluster(self) -> Cluster:
        """PostgreSQL, with a database ``empty`` in which every table is made."""
        cluster = Cluster(self.folder)
        self._run.callback(cluster.stop)
        cluster.start()
        cluster.make("empty")
        self.migrate(cluster.url("empty", "migrate"))
        return cluster

    def migrate(self, database: str) -> None:
        """Make the tables in a database."""
        made = subprocess.run(
            [sys.executable, "manage.py", "migrate", "--verbosity", "0"],
            cwd=ROOT,
            env=self.env(DATABASE_URL=database),
            capture_output=True,
            text=True,
        )
        if made.returncode != 0:
            raise Broken(f"the tables could not be made: {made.stderr}")

    def env(self, **values: str) -> dict[str, str]:
        """Return the environment of a program of the app."""
        kept = {name: value for name, value in os.environ.items() if name not in OURS}
        return {**kept, "SECRET_KEY": SECRET, "PYTHONUNBUFFERED": "1", "DEMO": "off", **values}
