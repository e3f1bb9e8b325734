"""The columns of a sheet, in order, and how each cell is read.

Every cell is trimmed; a blank one says nothing. Where a cell can't be read, its parser says what
would be right.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from pipeline.leads.models import Contact, DecisionKind, Lead, Source
from pipeline.teams.money import MAX_DIGITS, PLACES, currencies
from sessions.models import Deliverable, Format, State

# What a whole number's column holds on every database.
LARGEST_NUMBER = 2_147_483_647


class Wrong(Exception):
    """A cell can't be read; says what would be right."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a row: the column, its value, and what would be right."""

    column: str
    value: str
    mend: str


@dataclass(frozen=True, slots=True)
class Expected:
    """For when money is expected: a day, or the first of the month that is meant as a whole."""

    day: date
    by_month: bool

    def __str__(self) -> str:
        return self.day.isoformat()[:7] if self.by_month else self.day.isoformat()


@dataclass(frozen=True, slots=True)
class Column:
    """One column: how a cell that isn't blank is read, and what the column means."""

    parse: Callable[[str], Any]
    says: str


def _text(model: Any, field: str) -> Callable[[str], str]:
    limit: int = model._meta.get_field(field).max_length

    def parse(cell: str) -> str:
        if len(cell) > limit:
            raise Wrong(f"Shorten it to {limit} characters; it has {len(cell)}.")
        return cell

    return parse


def _email(cell: str) -> str:
    try:
        validate_email(cell)
    except ValidationError:
        raise Wrong("Write an e-mail address such as ana@lead.example.") from None
    return _text(Contact, "email")(cell)


def _day(cell: str) -> date:
    try:
        return date.fromisoformat(cell if cell.isascii() else "")
    except ValueError:
        raise Wrong("Write a day of the calendar as year-month-day, such as 2026-03-31.") from None


def _day_or_month(cell: str) -> Expected:
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}", cell):
            return Expected(date.fromisoformat(f"{cell}-01"), by_month=True)
        return Expected(_day(cell), by_month=False)
    except (ValueError, Wrong):
        raise Wrong("Write a day such as 2026-03-31, or a month such as 2026-03.") from None


def _words(choices: type[State] | type[DecisionKind]) -> Callable[[str], str]:
    known = {str(value) for value in choices.values}

    def parse(cell: str) -> str:
        words = " ".join(cell.casefold().split())
        if words not in known:
            raise Wrong(f"Write one of: {', '.join(choices.values)}.")
        return words

    return parse


def _whole(cell: str) -> int:
    if not re.fullmatch(r"[0-9]+", cell):
        raise Wrong("Write a whole number without a sign, such as 45.")
    digits = cell.lstrip("0") or "0"
    if len(digits) > 10 or int(digits) > LARGEST_NUMBER:
        raise Wrong(f"Write a whole number of at most {LARGEST_NUMBER}.")
    return int(digits)


def _amount(cell: str) -> Decimal:
    """Read an amount; zeros that change nothing don't count as digits."""
    if not re.fullmatch(r"[0-9]+(\.[0-9]+)?", cell):
        raise Wrong("Write an amount with a decimal point and nothing else, such as 12500.50.")
    before, _, after = cell.partition(".")
    before, after = before.lstrip("0") or "0", after.rstrip("0")
    if len(before) > MAX_DIGITS - PLACES or len(after) > PLACES:
        raise Wrong(
            f"Write at most {MAX_DIGITS - PLACES} digits before the point and {PLACES} after it."
        )
    return Decimal(f"{before}.{after or '0'}")


def written(amount: Decimal) -> str:
    """Return an amount as a sheet holds it: a decimal point, no needless zeros."""
    return format(amount.normalize(), "f")


def _currency(cell: str) -> str:
    code = cell.upper()
    if code not in currencies():
        raise Wrong("Write a currency of ISO 4217 by its three letters, such as EUR.")
    return code


COLUMNS: dict[str, Column] = {
    "lead_ref": Column(
        _text(Lead, "reference"),
        "The lead's reference. Rows that share it are one lead; without it each row is one.",
    ),
    "organisation": Column(
        _text(Lead, "organisation"),
        "The only required cell. The same in all rows of one lead_ref.",
    ),
    "contact_name": Column(_text(Contact, "name"), "A person at the lead."),
    "contact_email": Column(_email, "That person's address; people are told apart by it."),
    "source": Column(_text(Source, "name"), "Where the lead came from; created where unknown."),
    "enquired_on": Column(_day, "The day of the enquiry."),
    "format": Column(_text(Format, "name"), "The session's format; created where unknown."),
    "session_on": Column(_day, "The day of a discovery session."),
    "session_status": Column(
        _words(State),
        "booked, held, missed or cancelled; blank means booked. A held session is not after "
        "today.",
    ),
    "attendees": Column(_whole, "How many people of the lead came."),
    "effort_minutes": Column(_whole, "The team's minutes on the session, all in all."),
    "deliverable": Column(_text(Deliverable, "title"), "Something promised after the session."),
    "deliverable_sent_on": Column(
        _day, "The day it was sent; where no deliverable is named, that of the takeaway."
    ),
    "decision": Column(
        _words(DecisionKind),
        "engaged, no budget yet, declined, gone quiet or turned away, with its day.",
    ),
    "decided_on": Column(_day, "The day of the decision, not after today."),
    "funding_expected_on": Column(
        _day_or_month,
        "When money is expected: a day or a month. Belongs to the row's last “no budget yet”.",
    ),
    "funding_arrived_on": Column(_day, "The day on which money arrived at the lead."),
    "later_decision": Column(_words(DecisionKind), "A second decision, with its day."),
    "later_decided_on": Column(_day, "The day of the second one, not before the first."),
    "fee": Column(
        _amount,
        "The fee of the row's last “engaged”; in a row without one, the fee expected of the lead.",
    ),
    "currency": Column(_currency, "The fee's currency (ISO 4217); blank means the team's."),
    "followed_since": Column(
        _day,
        "In the figures of delayed return the lead counts from this day on, where it is after "
        "its first “no budget yet”.",
    ),
}

# What the file of rejected rows adds, so that it may be mended and imported as it is.
IGNORED = ("reject_line", "reject_column", "reject_value", "reject_mend")
