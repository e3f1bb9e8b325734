"""What the functions of this package accept, and how they refuse the rest.

Every fault is a `ValueError` whose text begins with the argument's name, then says what is wrong
and where: `times: -3 at position 7 is negative`. Positions count from 0.
"""

from math import isfinite
from numbers import Real
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]
Decimals = npt.NDArray[np.float64]

LARGEST_CAUSE = 99
LARGEST_COUNT = 2**53  # the last up to which a float holds every whole number


def whole_numbers(name: str, values: npt.ArrayLike) -> Whole:
    """One row of whole numbers from 0 up, or a `ValueError` that names the first that is none."""
    given = _array(name, values)
    if given.ndim != 1:
        raise ValueError(f"{name}: one row of numbers is needed, got {given.ndim} dimensions")
    return _whole(name, given)


def whole_table(name: str, values: npt.ArrayLike, columns: int) -> Whole:
    """A table of whole numbers with `columns` columns; a single row becomes a table of one."""
    given = _array(name, values)
    if given.ndim == 1:
        given = given[np.newaxis, :]
    if given.ndim != 2 or given.shape[1] != columns or not given.shape[0]:
        raise ValueError(f"{name}: a row of {columns} is needed a cause, got shape {given.shape}")
    return _whole(name, given)


def _array(name: str, values: npt.ArrayLike) -> npt.NDArray[Any]:
    try:
        return np.asarray(values)
    except ValueError as error:
        raise ValueError(f"{name}: its rows are of different lengths") from error


def _whole(name: str, given: npt.NDArray[Any]) -> Whole:
    if given.size == 0:
        return np.zeros(given.shape, dtype=np.int64)
    if given.dtype.kind not in "iufb":
        raise ValueError(f"{name}: numbers are needed, got {given.dtype}")
    with np.errstate(invalid="ignore"):  # what does not fit differs afterwards, and is refused
        whole = given.astype(np.int64, copy=False)
    if given.dtype.kind in "fu" and (whole != given).any():
        _refuse(name, given, np.isnan(given), "is not a number")
        _refuse(name, given, given > LARGEST_COUNT, "is too large")
        _refuse(name, given, whole != given, "is not whole")
    if whole.view(np.uint64).max() > LARGEST_COUNT:  # without their sign, negatives are too large
        _refuse(name, given, given < 0, "is negative")
        _refuse(name, given, given > LARGEST_COUNT, "is too large")
    return whole


def _refuse(name: str, given: npt.NDArray[Any], fault: npt.NDArray[np.bool_], text: str) -> None:
    faults = np.flatnonzero(fault.ravel())
    if faults.size:
        first = int(faults[0])
        raise ValueError(f"{name}: {given.ravel()[first]} at position {first} {text}")


def cause_codes(name: str, values: npt.ArrayLike) -> Whole:
    """Why each one left: 0 for censored, 1 and up for a cause."""
    codes = whole_numbers(name, values)
    if codes.size and codes.max() > LARGEST_CAUSE:
        _refuse(name, codes, codes > LARGEST_CAUSE, f"is no cause (0 to {LARGEST_CAUSE})")
    return codes


def cause_among(name: str, value: int, codes: Whole) -> int:
    """One of the causes 1…K, where K is the largest of `codes`, at least 1."""
    cause, largest = whole_number(name, value, least=1), max(int(codes.max(initial=1)), 1)
    if cause > largest:
        raise ValueError(f"{name}: {cause} is unknown, there are 1 to {largest}")
    return cause


def same_length(**arrays: npt.NDArray[Any]) -> None:
    """Refuse arrays that do not belong to each other row by row."""
    (first, reference), *others = arrays.items()
    for name, array in others:
        if len(array) != len(reference):
            raise ValueError(f"{name}: {len(array)} values, but {first} has {len(reference)}")


def whole_number(name: str, value: float, *, least: int = 0) -> int:
    """One whole number from `least` up."""
    if not isinstance(value, Real):
        raise ValueError(f"{name}: one number is needed, got {value!r}")
    if not isfinite(value) or value != int(value):
        raise ValueError(f"{name}: {value} is not a whole number")
    if value < least:
        raise ValueError(f"{name}: {value} is less than {least}")
    return int(value)


def normal_quantile(level: float) -> float:
    """The z that holds `level` of a standard normal between -z and z."""
    if not isinstance(level, Real) or not 0 < level < 1:
        raise ValueError(f"level: {level!r} is not between 0 and 1")
    return NormalDist().inv_cdf(0.5 + level / 2)


def group_numbers(name: str, labels: npt.ArrayLike) -> tuple[Whole, int]:
    """Number the groups that labels name: (the number of each label's group, how many groups)."""
    given = _array(name, labels)
    if given.ndim != 1:
        raise ValueError(f"{name}: one row of labels is needed, got {given.ndim} dimensions")
    if given.dtype.kind in "fO":  # only what is not a number differs from itself
        _refuse(name, given, given != given, "is not a label")
    if given.dtype.kind == "O":  # labels that do not sort, such as a name beside None
        known: dict[Any, int] = {}
        numbers = np.array([known.setdefault(label, len(known)) for label in given], np.int64)
        count = len(known)
    else:
        found, numbers = np.unique(given, return_inverse=True)
        count = len(found)
    if count < 2:
        raise ValueError(f"{name}: at least two groups are needed, got {count}")
    return numbers.astype(np.int64, copy=False), count


def probabilities(name: str, values: npt.ArrayLike) -> Decimals:
    """One row of numbers from 0 to 1."""
    given = _array(name, values)
    if given.ndim != 1 or (given.size and given.dtype.kind not in "iufb"):
        raise ValueError(f"{name}: one row of numbers is needed")
    given = given.astype(np.float64)
    _refuse(name, given, np.isnan(given), "is not a number")
    _refuse(name, given, (given < 0) | (given > 1), "is not between 0 and 1")
    return given
