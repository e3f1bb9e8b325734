"""The numbers for Prometheus, asked of the rows at each scrape: all processes say the same."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from .waiting import KINDS, LATE, LATELY, lately, waiting

MINUTES = round(LATELY.total_seconds() / 60)

WAITING = {
    "due": "Rows that are due and held by no worker.",
    "late": f"Of these, rows due for more than {LATE.total_seconds():.0f} seconds.",
    "failed": "Rows to be tried again after a failure.",
    "given_up": "Rows that were tried in vain, and wait for an owner.",
}
# A round is one row for all days: it can't be told what it was yesterday.
OF_LATE = ("letter", "job")


class Rows(Collector):
    """Reads letters, jobs and rounds."""

    def __init__(self, now: datetime) -> None:
        self._now = now

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """Return each number, by kind of row."""
        found = {kind: waiting(kind, self._now) for kind in KINDS}
        for name, words in WAITING.items():
            by_kind = {kind: getattr(rows, name) for kind, rows in found.items()}
            yield _gauge(f"pipeline_{name}_rows", words, by_kind)
        yield _gauge(
            "pipeline_oldest_due_seconds",
            "How long the row that has waited longest has been due.",
            {kind: rows.oldest.total_seconds() for kind, rows in found.items()},
        )
        recent = {kind: lately(kind, self._now) for kind in OF_LATE}
        yield _gauge(
            "pipeline_claimed_rows",
            f"Rows that a worker took within the last {MINUTES} minutes.",
            {kind: rows.claimed for kind, rows in recent.items()},
        )
        yield _gauge(
            "pipeline_done_rows",
            "Of these, letters that were sent and jobs that were done.",
            {kind: rows.done for kind, rows in recent.items()},
        )
        waits = _gauge("pipeline_claim_wait_seconds", "From due to taken, of these.", {}, "of")
        for kind, rows in recent.items():
            waits.add_metric([kind, "mean"], rows.mean_wait.total_seconds())
            waits.add_metric([kind, "longest"], rows.longest_wait.total_seconds())
        yield waits


def as_text(now: datetime) -> bytes:
    """Return all numbers in Prometheus' text format."""
    registry = CollectorRegistry()
    registry.register(Rows(now))
    return generate_latest(registry)


def _gauge(name: str, words: str, by_kind: dict[str, float], *labels: str) -> GaugeMetricFamily:
    family = GaugeMetricFamily(name, words, labels=["kind", *labels])
    for kind, value in by_kind.items():
        family.add_metric([kind], value)
    return family
