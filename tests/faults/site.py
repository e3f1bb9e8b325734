"""The arrangement on many machines: four workers, and two beats with wrong clocks."""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Iterable

from .broker import Broker
from .ledger import Count
from .processes import Program, wait_for
from .rig import Rig
from .watched import Hand, Sink

HOUR = 3600
# By how much the clock of each worker's machine is wrong, and of each beat's.
WORKERS = (0, HOUR, 0, -HOUR)
BEATS = (HOUR, -HOUR)
SLOTS = range(len(WORKERS))
TABLES = ("mail_letter", "jobs_job", "jobs_round")
# As pipeline.claims has it: a claim ends so long after it was taken, to the microsecond.
HELD = "next_attempt_at = claimed_at + interval '5 minutes'"


class Site:
    """All of it, running, with an empty database and one team."""

    def __init__(
        self, rig: Rig, name: str, *, slow: float = 0, troubled: bool = False, every: float = 0
    ) -> None:
        self._rig = rig
        self._name = name
        self._every = str(every or rig.scale(1, 0.3))
        # Half of the machine's time goes into starting workers.
        self.slots = SLOTS[: rig.scale(4, 2)]
        self.folder = rig.folder / name
        self.folder.mkdir()
        self.cluster = rig.cluster
        self.cluster.make(name, like="empty")
        self.broker = Broker(self.folder)
        rig.ending.callback(self.broker.kill)
        self.broker.start()
        self.sink = Sink(rig, self.folder, slots=len(self.slots), slow=slow, troubled=troubled)
        self.ledger = self.sink.ledger
        env = self._env("hand")
        self.hand = Hand(rig, self.folder, self.ledger, env)
        self.hand.ask("team")
        self.workers: dict[int, Program] = {}
        self.beats: dict[int, Program] = {}
        rig.ending.callback(self.kill)

    def start(self) -> None:
        """Start the workers and the beats, and wait for the workers."""
        for beat in range(len(BEATS)):
            self.start_beat(beat)
        self.start_workers(self.slots)
        self.wait_for_workers()

    def start_workers(self, slots: Iterable[int]) -> None:
        """Start the workers of these slots."""
        for slot in slots:
            self.workers[slot] = self._celery(
                f"worker{slot}",
                WORKERS[slot],
                *("worker", "--concurrency", "1", "--hostname", f"worker{slot}@rig"),
                *("--without-gossip", "--without-mingle", "--without-heartbeat"),
                EMAIL_URL=self.sink.url(slot),
            )

    def start_beat(self, beat: int) -> None:
        """Start one of the beats."""
        name = f"beat{beat}"
        self.beats[beat] = self._celery(
            name,
            BEATS[beat],
            *("beat", "--schedule", str(self.folder / f"{name}.schedule"), "--pidfile", ""),
        )

    def wait_for_workers(self) -> None:
        """Wait until all workers take work."""
        wait_for("the workers", lambda: all(w.has_said("ready") for w in self.workers.values()))

    def wait_for_work(self) -> None:
        """Wait until some worker hands letters in."""
        wait_for("a worker at work", self.sink.lines)

    def wait_for_letters(self, count: int) -> None:
        """Wait until so many letters more were taken, or all that there are."""
        enough = len(self.ledger.arrived) + count
        wait_for(
            "letters to be taken",
            lambda: (
                len(self.sink.read().arrived) >= enough
                or (self.hand.idle() and not self.unfinished())
            ),
        )

    def sweeps(self) -> int:
        """Return how often the beats had what is due looked for."""
        return sum(beat.log.read_text().count("sweep sent") for beat in self.beats.values())

    def settle(self, *, seconds: float = 120) -> None:
        """Let come what is due: as if hours passed, in which what was held or put off comes up."""
        self.hand.finish()
        self.sink.program.signal(signal.SIGUSR1)
        until = time.monotonic() + seconds
        still = time.monotonic()
        before: object = None
        while self.unfinished():
            if time.monotonic() > until:
                return
            self._bring_forward(f"NOT {HELD}")
            now = self._state()
            if now != before:
                before, still = now, time.monotonic()
                until = still + seconds
            elif time.monotonic() - still > 1 + 2 * float(self._every):
                # What is held now is held by nobody who lives, or all of them end well first.
                self.let_leases_pass()
                still = time.monotonic()
            time.sleep(0.1)
        # Time for a double to come that should not.
        time.sleep(3 * float(self._every))

    def let_leases_pass(self) -> None:
        """Stop every worker in good order, end what the dead held, and start them again."""
        for worker in self.workers.values():
            worker.signal(signal.SIGTERM)
        for worker in self.workers.values():
            worker.stop()
        self.release()
        self.start_workers(list(self.workers))
        self.wait_for_workers()

    def release(self) -> None:
        """Let come up again what is held or put off; only while no worker lives."""
        self._bring_forward("true")

    def kill_workers(self, slots: Iterable[int]) -> None:
        """``kill -9`` the workers of these slots; count what each one left open."""
        killed = list(slots)
        for slot in killed:
            self.workers[slot].kill()
        self.gone(killed)

    def gone(self, slots: list[int]) -> None:
        """Wait until nothing of what was just killed moves any more; count what it left open."""
        [(killed_at,)] = self.ask("SELECT clock_timestamp()")
        names = [f"worker{slot}" for slot in slots]
        lines = set().union(*(self.sink.lines(slot) for slot in slots))
        wait_for("the end of connections", lambda: not lines & self.sink.lines())
        wait_for(
            "the end of transactions",
            lambda: (
                not self.ask(
                    "SELECT 1 FROM pg_stat_activity"
                    " WHERE application_name = ANY(%s) AND backend_start < %s",
                    names,
                    killed_at,
                )
            ),
        )
        self.strike(slots)

    def strike(self, slots: Iterable[int]) -> None:
        """Tell the ledger that a fault struck these workers, and what is not marked as sent."""
        rows = self.ask('SELECT "to" FROM mail_letter WHERE sent_at IS NULL')
        self.sink.read().strike(list(slots), {to for (to,) in rows})

    def ask(self, question: str, *values: object) -> list[tuple[object, ...]]:
        """Ask the database."""
        return self.cluster.ask(self._name, question, values)

    def unfinished(self) -> int:
        """Return how many letters and jobs are due and neither done nor given up."""
        rows = self.ask(
            " UNION ALL ".join(
                f"SELECT count(*) FROM {table} WHERE next_attempt_at IS NOT NULL"
                " AND (claim IS NOT NULL OR next_attempt_at <= clock_timestamp())"
                for table in TABLES
            )
        )
        digests = len(self.ledger.promised) - self._rows()
        return sum(int(str(count)) for (count,) in rows) + max(digests, 0)

    def end(self) -> Count:
        """End it all and count."""
        self.kill()
        self.sink.program.stop()
        self.hand.read()
        for (to,) in self.ask('SELECT "to" FROM mail_letter'):
            if to not in self.ledger.never:
                self.ledger.promised.add(str(to))
        count = self.sink.read().count()
        self.broker.kill()
        return count

    def kill(self) -> None:
        """End the workers and beats, however it stands with them."""
        for program in (*self.workers.values(), *self.beats.values()):
            program.kill()

    def _rows(self) -> int:
        never = list(self.ledger.never)
        [(count,)] = self.ask('SELECT count(*) FROM mail_letter WHERE "to" <> ALL(%s)', never)
        return int(str(count))

    def _state(self) -> object:
        return self.ask(
            " UNION ALL ".join(
                f"SELECT count(next_attempt_at), sum(attempts), max(claimed_at) FROM {table}"
                for table in TABLES
            )
        )

    def _bring_forward(self, which: str) -> None:
        for table in TABLES:
            self.ask(
                f"UPDATE {table} SET next_attempt_at = clock_timestamp() WHERE claim IS NOT NULL"
                f" AND next_attempt_at > clock_timestamp() AND {which}"
            )

    def _celery(self, name: str, ahead: float, *words: str, **env: str) -> Program:
        command = [sys.executable, "-m", "celery", "--app", "tests.faults.app", *words]
        settings = self._env(name) | env
        settings |= {"FAULTS_AHEAD": str(ahead), "FAULTS_EVERY": self._every}
        # A beat says what it sends, and is counted by it.
        level = "INFO" if "beat" in words else "WARNING"
        return Program(name, [*command, "--loglevel", level], self.folder, env=settings)

    def _env(self, name: str) -> dict[str, str]:
        return self._rig.env(
            DATABASE_URL=self.cluster.url(self._name, name), REDIS_URL=self.broker.url
        )
