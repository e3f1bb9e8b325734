"""The statistics know nothing of the web: arrays in, dataclasses out."""

import ast
import sys
from pathlib import Path

import pipeline.stats

HERE = Path(pipeline.stats.__file__).parent


def imported(file: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file.name}: a relative import"
            found.add(str(node.module))
    return found


def test_they_import_numpy_and_themselves_and_nothing_else() -> None:
    files = list(HERE.glob("*.py"))
    assert len(files) > 5
    for file in files:
        for name in imported(file):
            top = name.split(".")[0]
            own = name.startswith("pipeline.stats.")
            assert own or top == "numpy" or top in sys.stdlib_module_names, f"{file.name}: {name}"
