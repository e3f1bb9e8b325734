"""``python -m tests.faults [--quick] [--seed N] [--logs FOLDER] [FAULT …]``."""

from __future__ import annotations

import argparse
import random
import shutil
import signal
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path
from types import FrameType

from . import (
    broker_emptied,
    database_restarted,
    disk_full,
    mail_server,
    two_beats,
    web_killed,
    worker_killed,
)
from .cluster import tools
from .ledger import Count
from .processes import Broken
from .rig import Rig
from .table import Row, closing_line, table

FAULTS = {
    fault.NAME: fault
    for fault in (
        worker_killed,
        database_restarted,
        broker_emptied,
        two_beats,
        mail_server,
        disk_full,
        web_killed,
    )
}
ENDS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def asked(arguments: list[str]) -> argparse.Namespace:
    """Return what the command line asks for."""
    parser = argparse.ArgumentParser(prog="script/faults", description=__doc__)
    parser.add_argument("faults", nargs="*", metavar="FAULT", help=", ".join(FAULTS))
    parser.add_argument("--quick", action="store_true", help="a small version of each")
    parser.add_argument("--seed", type=int, help="the chance of an earlier run")
    parser.add_argument("--logs", type=Path, help="keep what the programs said in this folder")
    given = parser.parse_args(arguments)
    for name in given.faults:
        if name not in FAULTS:
            parser.error(f"no fault {name!r}; there are {', '.join(FAULTS)}")
    return given


def run(rig: Rig, names: list[str]) -> list[Row]:
    """Let the faults strike one after the other; one row each."""
    rows: list[Row] = []
    for name in names:
        begun = time.monotonic()
        rig.begin(name)
        try:
            with ExitStack() as rig.ending:
                outcome = FAULTS[name].run(rig)
            of, struck, count = outcome.of, outcome.struck, outcome.count
        except Broken as broken:
            of, struck, count = "not counted", 0, Count(0, 0, 0, 0, (str(broken),))
        for words in count.wrong[:20]:
            rig.say(f"{name}: {words}")
        rig.say(f"{name}: {closing_line([count])}")
        rows.append((name, of, struck, count, time.monotonic() - begun))
    return rows


def interrupt(number: int, frame: FrameType | None) -> None:
    """End as after Ctrl-C, and be left alone with it."""
    for again in ENDS:
        signal.signal(again, lambda *_: None)
    raise KeyboardInterrupt


def main(arguments: list[str]) -> int:
    """Run what is asked for, print the table and the closing line; 1 where something failed."""
    given = asked(arguments)
    for end in ENDS:
        signal.signal(end, interrupt)
    seed = random.SystemRandom().randrange(1_000_000) if given.seed is None else given.seed
    try:
        tools()
        with ExitStack() as run_of_all:
            folder = Path(tempfile.mkdtemp(prefix="faults-"))
            run_of_all.callback(shutil.rmtree, folder)
            # The server of the database runs as somebody else, and has its folder in here.
            folder.chmod(0o711)
            if given.logs:
                run_of_all.callback(keep_logs, folder, given.logs)
            rig = Rig(folder, seed=seed, quick=given.quick, run=run_of_all)
            rig.say(f"seed {seed}")
            rows = run(rig, given.faults or list(FAULTS))
    except Broken as broken:
        sys.stderr.write(f"script/faults: {broken}\n")
        return 2
    except KeyboardInterrupt:
        sys.stderr.write("script/faults: stopped\n")
        return 130
    counts = [count for _, _, _, count, _ in rows]
    sys.stdout.write(f"{table(rows)}\n{closing_line(counts)}\n")
    return int(any(count.failed for count in counts))


def keep_logs(folder: Path, kept: Path) -> None:
    """Copy what the programs said."""
    for log in folder.rglob("*.[lj]*o*"):
        if log.is_file() and log.suffix in {".log", ".jsonl"}:
            place = kept / log.relative_to(folder)
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(log, place)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
