"""The check values in `data/` and the tables they speak of."""

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np

DATA = Path(__file__).parent / "data"

Check = dict[str, Any]
CHECKS: list[Check] = json.loads((DATA / "check_values.json").read_text())


def checks(*functions: str) -> list[Check]:
    """The checks of some functions; asking for one that has none is a mistake in the test."""
    found = [check for check in CHECKS if check["function"] in functions]
    assert {check["function"] for check in found} == set(functions)
    return found


def name(check: Check) -> str:
    return check["id"]


def rows(table: str, **wanted: str) -> list[dict[str, str]]:
    with (DATA / table).open(newline="") as file:
        return [
            row
            for row in csv.DictReader(file)
            if all(row[column] == value for column, value in wanted.items())
        ]


def column(table: list[dict[str, str]], *names: str) -> np.ndarray:
    """The first of the named columns that the table has, as whole numbers."""
    found = next(name for name in names if name in table[0])
    return np.array([int(row[found]) for row in table])


def times_and_causes(table: str, **wanted: str) -> tuple[np.ndarray, np.ndarray]:
    found = rows(table, **wanted)
    return column(found, "time", "etime"), column(found, "cause", "ev", "event")
