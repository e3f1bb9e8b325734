"""Reads the imports of a source tree, those inside functions too."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGES = ("pipeline", "sessions")
FLOORS = {
    "pipeline.clock": 0,
    "pipeline.stats": 0,
    "pipeline.typeset": 0,
    "pipeline.locks": 0,
    "pipeline.claims": 1,
    "pipeline.teams": 1,
    "pipeline.mail": 2,
    "pipeline.jobs": 2,
    "pipeline.history": 2,
    "pipeline.accounts": 3,
    "pipeline.leads": 3,
    "pipeline.watching": 3,
    "sessions": 4,
    "pipeline.enquiries": 4,
    "pipeline.followups": 5,
    "pipeline.results": 6,
    "pipeline.rights": 6,
    "pipeline.exchange": 7,
}
# May import every floor; no floor imports it.
ROOF = {f"pipeline.{name}" for name in ("settings", "env", "urls", "celery", "wsgi", "server")}
TOP = 8


def sources(root: Path) -> Iterator[tuple[Path, str]]:
    """Return each source file below ``root`` with its module's dotted name."""
    for package in PACKAGES:
        for path in sorted((root / package).rglob("*.py")):
            parts = path.relative_to(root).with_suffix("").parts
            yield path, ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(path: Path, module: str) -> Iterator[tuple[int, str]]:
    """Return line and dotted name of everything that ``path`` imports from our own packages."""
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                above = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*above, *([node.module] if node.module else [])])
            # ``from pipeline import leads`` imports pipeline.leads
            names = [f"{base}.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            if name.split(".")[0] in PACKAGES:
                yield node.lineno, name


def home(name: str) -> str:
    """Return the package on a floor, or the module of the roof, in which ``name`` lives."""
    for place in (*FLOORS, *ROOF):
        if name == place or name.startswith(f"{place}."):
            return place
    raise AssertionError(f"{name} lives on no floor")


def pointing_up(root: Path) -> list[str]:
    """Return the imports that reach neither their own package nor a lower floor."""
    wrong = []
    for path, module in sources(root):
        if module == "pipeline":
            continue
        own = home(module)
        for line, name in imported(path, module):
            other = home(name)
            if other != own and FLOORS.get(other, TOP) >= FLOORS.get(own, TOP + 1):
                wrong.append(f"{path.relative_to(root)}:{line}: {own} imports {name}")
    return wrong
