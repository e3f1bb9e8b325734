"""Working days of a team: its weekdays less the public holidays of its country."""

import functools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import holidays

MONDAY_TO_FRIDAY = frozenset(range(5))
ONE_DAY = timedelta(days=1)


@functools.cache
def country_codes() -> dict[str, list[str]]:
    """Return the ISO 3166 codes with known holidays and, for each, its subdivisions' codes."""
    return holidays.list_supported_countries(include_aliases=False)


@functools.cache
def country_names() -> list[tuple[str, str]]:
    """Return the codes of ``country_codes`` with the countries' names, in order of name."""
    found = [
        (code, re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name))
        for name, code, *_ in holidays.registry.COUNTRIES.values()
        if code in country_codes()
    ]
    return sorted(found, key=lambda pair: pair[1])


@functools.lru_cache(maxsize=4096)
def _public(country: str, subdivision: str, year: int) -> frozenset[date]:
    found = holidays.country_holidays(country, subdiv=subdivision or None, years=year)
    return frozenset(found)


def days_between(first: date, last: date) -> Iterator[date]:
    """Yield the days in ``first`` ≤ day ≤ ``last``."""
    for n in range((last - first).days + 1):
        yield first + timedelta(days=n)


@dataclass(frozen=True)
class WorkCalendar:
    """Weekdays worked (0 is Monday), public holidays of a country, and a team's own days off.

    An empty ``country`` knows no public holidays.
    """

    country: str = ""
    subdivision: str = ""
    weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    days_off: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not self.weekdays or not self.weekdays <= frozenset(range(7)):
            raise ValueError("weekdays must hold one to seven numbers from 0 to 6")
        if self.country and self.country not in country_codes():
            raise ValueError(f"country {self.country!r} is not one with known holidays")
        if self.subdivision and self.subdivision not in country_codes().get(self.country, []):
            raise ValueError(f"{self.subdivision!r} is no subdivision of {self.country!r}")

    def is_working(self, day: date) -> bool:
        """Tell whether the team works on ``day``."""
        if day.weekday() not in self.weekdays or day in self.days_off:
            return False
        return not self.country or day not in _public(self.country, self.subdivision, day.year)

    def on_or_after(self, day: date) -> date:
        """Return ``day`` or the next working day; the calendar's last day if there is none."""
        while day < date.max and not self.is_working(day):
            day += ONE_DAY
        return day

    def add(self, day: date, count: int) -> date:
        """Return the ``count``-th working day after ``day``; with 0, ``on_or_after(day)``."""
        if count < 0:
            raise ValueError("count must not be negative")
        if count == 0:
            return self.on_or_after(day)
        while count and day < date.max:
            day += ONE_DAY
            if self.is_working(day):
                count -= 1
        return day

    def count(self, start: date, end: date) -> int:
        """Return how many working days lie in ``start`` ≤ day < ``end``."""
        return sum(
            self.is_working(start + timedelta(days=n)) for n in range(max((end - start).days, 0))
        )
