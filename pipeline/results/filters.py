"""Which leads the figures are about: a choice that is made before they are computed.

    Filters()                                    every lead that counts
    Filters(formats=("hour", None), year=2025)   of that format or none known, first held in 2025
    Filters(attendees="few").in_words            "two or three people at the session"

`FilterForm` in forms.py reads them from an address; `Cohort` in cohort.py applies them. Whatever
is filtered, it is filtered by what was known on the lead's index day, or by the lead's own
source and owner, never by what came of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from pipeline.results.sql import as_parameter, thousandths, to_thousandths
from pipeline.teams import money


@dataclass(frozen=True)
class Band:
    """So many people of the lead at its first held session."""

    key: str
    name: str
    # None: however many.
    most: int | None


BANDS = (
    Band("one", "one person", 1),
    Band("few", "two or three people", 3),
    Band("more", "four people or more", None),
)
NOT_KNOWN = "not-known"
BUDGETS = {
    "some": "a budget at entry",
    "none": "no budget at entry",
    NOT_KNOWN: "not known whether there was a budget at entry",
}


@dataclass(frozen=True)
class Filters:
    """What was chosen; nothing chosen lets every lead through. `None` in a choice: not known.

    `versions`, `sources`, `owners` and `facilitators` hold primary keys, `formats` names, each
    with all its versions. `names` says how chosen keys are called on the screen.
    """

    formats: tuple[str | None, ...] = ()
    versions: tuple[int, ...] = ()
    sources: tuple[int | None, ...] = ()
    owners: tuple[int | None, ...] = ()
    facilitators: tuple[int | None, ...] = ()
    # The key of a band, or NOT_KNOWN.
    attendees: str = ""
    # A key of BUDGETS.
    budget: str = ""
    # In `currency`; a budget in another currency is not compared.
    budget_from: Decimal | None = None
    currency: str = ""
    # Of the index day.
    year: int | None = None
    # Versions of a format as groups of their own. This filters nothing.
    versions_apart: bool = False
    names: dict[tuple[str, int], str] = field(default_factory=dict, compare=False, hash=False)

    def __bool__(self) -> bool:
        """Whether anything is left out."""
        return bool(self.in_words)

    @property
    def in_words(self) -> str:
        """Return what is let through, such as ``format hour; first held in 2025``; empty: all."""
        named: list[str] = []
        formats = ["not known" if name is None else name for name in self.formats]
        formats += [self._name("version", key) for key in self.versions]
        if formats:
            named.append(f"format {' or '.join(formats)}")
        for what, keys in (
            ("source", self.sources),
            ("owner", self.owners),
            ("facilitator", self.facilitators),
        ):
            if keys:
                named.append(f"{what} {' or '.join(self._name(what, key) for key in keys)}")
        if self.attendees == NOT_KNOWN:
            named.append("not known how many came to the session")
        named += [f"{band.name} at the session" for band in BANDS if band.key == self.attendees]
        if self.budget:
            named.append(BUDGETS[self.budget])
        if self.budget_from is not None:
            amount = money.show(self.budget_from, self.currency)
            named.append(f"a budget at entry of {amount} or more")
        if self.year is not None:
            named.append(f"first held in {self.year}")
        return "; ".join(named)

    def _name(self, what: str, key: int | None) -> str:
        return "not known" if key is None else self.names.get((what, key), f"no. {key}")

    def where(self) -> tuple[str, dict[str, Any]]:
        """Return the condition in SQL, on columns of the cohort, and its parameters."""
        conditions: list[str] = []
        parameters: dict[str, Any] = {}

        def among(column: str, values: tuple[Any, ...]) -> str:
            known = [value for value in values if value is not None]
            names = [f"{column}_{number}" for number in range(len(known))]
            parameters.update(zip(names, known, strict=True))
            either = [f"{column} IS NULL"] if None in values else []
            if known:
                either.append(f"{column} IN ({', '.join(f'%({name})s' for name in names)})")
            return " OR ".join(either)

        by_format = [("format_name", self.formats), ("format_id", self.versions)]
        if chosen := [among(column, values) for column, values in by_format if values]:
            conditions.append(" OR ".join(chosen))
        for column, values in (
            ("source_id", self.sources),
            ("owner_id", self.owners),
            ("facilitator_id", self.facilitators),
        ):
            if values:
                conditions.append(among(column, values))
        if self.attendees:
            conditions.append(f"{BAND_OF_ATTENDEES} = '{self.attendees}'")
        if self.budget:
            conditions.append(
                {"some": "budget > 0", "none": "budget = 0", NOT_KNOWN: "budget IS NULL"}[
                    self.budget
                ]
            )
        if self.budget_from is not None:
            conditions.append(
                f"{thousandths('budget')} >= %(budget_from)s AND currency = %(budget_currency)s"
            )
            parameters["budget_from"] = to_thousandths(self.budget_from)
            parameters["budget_currency"] = self.currency
        if self.year is not None:
            conditions.append("index_day BETWEEN %(year_first)s AND %(year_last)s")
            parameters["year_first"] = as_parameter(date(self.year, 1, 1))
            parameters["year_last"] = as_parameter(date(self.year, 12, 31))
        return " AND ".join(f"({one})" for one in conditions) or "1 = 1", parameters


def _by_band(unknown: str, *told: str) -> str:
    """SQL that tells the band into which a lead's attendees fall."""
    steps = " ".join(
        f"WHEN attendees <= {band.most} THEN '{text}'"
        for band, text in zip(BANDS[:-1], told[:-1], strict=True)
    )
    return f"CASE WHEN attendees IS NULL THEN {unknown} {steps} ELSE '{told[-1]}' END"


BAND_OF_ATTENDEES = _by_band(f"'{NOT_KNOWN}'", *(band.key for band in BANDS))
NAME_OF_BAND = _by_band("NULL", *(band.name for band in BANDS))
