"""Reads docker-compose.yml as a container engine would, and runs what it names on this machine."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / "docker-compose.yml"
# $$, ${NAME:?words} and ${NAME:-default}: the compose specification, "Interpolation".
VARIABLE = re.compile(r"\$\$|\$\{(?P<name>\w+):(?P<kind>[?-])(?P<rest>[^}]*)\}")


class Missing(Exception):
    """A variable that must be set is not."""


def substituted(value: Any, variables: Mapping[str, str]) -> Any:
    """Return ``value`` with the variables in all its texts filled in."""

    def filled(match: re.Match[str]) -> str:
        if match[0] == "$$":
            return "$"
        found = variables.get(match["name"], "")
        if not found and match["kind"] == "?":
            raise Missing(f"{match['name']}: {match['rest']}")
        return found or match["rest"]

    if isinstance(value, dict):
        return {key: substituted(inner, variables) for key, inner in value.items()}
    if isinstance(value, list):
        return [substituted(inner, variables) for inner in value]
    return VARIABLE.sub(filled, value) if isinstance(value, str) else value


def compose(variables: Mapping[str, str]) -> dict[str, Any]:
    """Return the whole file, merged and filled in."""
    return substituted(yaml.safe_load(FILE.read_text()), variables)


def let_in() -> list[str]:
    """Return what goes into the image, as .dockerignore says: nothing but what it names."""
    lines = (ROOT / ".dockerignore").read_text().splitlines()
    first, *rest = (line for line in lines if line and not line.startswith("#"))
    assert first == "*"
    return [line[1:] for line in rest if line.startswith("!")]


def unpack(folder: Path) -> Path:
    """Lay out what goes into the image, and nothing else."""
    for name in let_in():
        if (ROOT / name).is_dir():
            ignored = shutil.ignore_patterns("__pycache__")
            shutil.copytree(ROOT / name, folder / name, ignore=ignored)
        else:
            shutil.copy(ROOT / name, folder / name)
    (folder / "data").mkdir()
    return folder


@dataclass
class Here:
    """What stands elsewhere on this machine than between containers: text for text."""

    instead: dict[str, str]
    said: Path
    # Where the program lies.
    app: Path = ROOT
    running: dict[str, subprocess.Popen] = field(default_factory=dict)

    def text(self, value: str) -> str:
        for there, here in self.instead.items():
            value = value.replace(there, here)
        return value

    def environment(self, service: dict[str, Any]) -> dict[str, str]:
        """Return a service's own environment, and of ours only where programs are found."""
        bin_first = os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
        kept = {"PATH": bin_first, "HOME": os.environ.get("HOME", "/")}
        return kept | {k: self.text(v) for k, v in service.get("environment", {}).items()}

    def start(self, name: str, service: dict[str, Any]) -> None:
        """Start a service by its own command, in a group of its own."""
        with open(self.said / name, "ab") as said:
            self.running[name] = subprocess.Popen(
                [self.text(word) for word in service["command"]],
                cwd=self.app,
                env=self.environment(service),
                stdout=said,
                stderr=said,
                start_new_session=True,
            )

    def check(self, service: dict[str, Any]) -> bool:
        """Run a service's own health check; tell whether it holds."""
        kind, *words = service["healthcheck"]["test"]
        command = ["sh", "-c", *words] if kind == "CMD-SHELL" else words
        ran = subprocess.run(
            [self.text(word) for word in command],
            cwd=self.app,
            env=self.environment(service),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=30,
            check=False,
        )
        return ran.returncode == 0

    def kill(self, name: str) -> None:
        """End a service at once, with all that it started."""
        process = self.running.pop(name)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
