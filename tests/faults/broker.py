"""A Redis of the rig's own, which forgets all it was told when it is killed."""

from __future__ import annotations

from pathlib import Path

import redis

from .processes import Program, free_port, wait_for


class Broker:
    """Keeps nothing on disk."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self._folder = folder
        self._client = redis.Redis(port=self.port)
        self._server: Program | None = None

    @property
    def url(self) -> str:
        """Where the app finds it."""
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        """Start it, empty."""
        self._server = Program(
            "redis",
            [
                *("redis-server", "--port", str(self.port), "--bind", "127.0.0.1"),
                *("--save", "", "--appendonly", "no", "--dir", str(self._folder)),
            ],
            self._folder,
        )
        wait_for("Redis", self._answers)

    def flush(self) -> None:
        """Have it forget everything."""
        self._client.flushall()

    def kill(self) -> None:
        """``kill -9`` it."""
        if self._server is not None:
            self._server.kill()
            self._server = None

    def _answers(self) -> bool:
        try:
            return bool(self._client.ping())
        except redis.RedisError:
            return False
