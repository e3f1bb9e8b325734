"""Who counts and what came of them, as SQL, once: every figure asks its question of this.

    cohort = Cohort(team, as_of, filters)
    rows = cohort.ask("SELECT source_id, COUNT(*) FROM counted GROUP BY source_id")
    rows = cohort.ask(
        f"SELECT waited, COUNT(*) FROM waits WHERE {cohort.days('index_day', 'ended_on')} >= %(n)s"
        " GROUP BY waited",
        n=30,
    )

`ask` puts the WITH below before a SELECT and returns its rows; `%(team)s` and `%(as_of)s` are
there for joins with other tables, whose rows must be told by `team_id = %(team)s` and, where they
are dated, by a day `<= %(as_of)s`. The text is the same on SQLite and PostgreSQL but for the few
things in sql.py: take days of a row with `as_day`, sum `thousandths(fee)` and take the sum with
`as_amount`. Relations, each with one row a lead:

entered   had a held session by `as_of`, was not merged into another lead, passes the filters
counted   of these, whoever had not engaged, declined or been turned away before the index day
waits     of these, whoever said "no budget yet" and had not engaged or closed on an earlier day

Columns of all three (NULL: not known, or never):
  lead_id, index_day, session_id    the lead, its first held session and that session's day
  format_id, format_name, format_version, facilitator_id, attendees       of that session
  source_id, source_name, owner_id, budget, expected_fee, currency, followed_since   of the lead
  engaged_on, closed_on             the first ever by `as_of`, before the index day or after it
  no_budget_on                      the first on or after the index day
  cause                             OPEN, ENGAGED or CLOSED; LEFT_OUT only in `entered`
  ended_on, days                    the day that decided (`as_of` while open), and from index to it
                                    (0 where left out)
  fee, fee_currency                 noted with the engagement that decided
Columns of `waits` besides:
  waited, entry                     days from `no_budget_on` to `ended_on`; the day after which it
                                    was at risk, 0 from the start
  on_curve                          1 where it was ever at risk while followed, else 0
`with_funding` is `waits` with one column more, which takes a look-up for each lead:
  funded_on                         the first money to arrive on or after `no_budget_on`

The rule is fixed beforehand and printed under every figure (words.py).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum
from typing import Any

from django.db import connection

from pipeline.leads.models import CLOSED_BY, Decision, DecisionKind, Funding, Lead, Source
from pipeline.results.filters import BANDS, NAME_OF_BAND, Filters
from pipeline.results.sql import as_parameter, days_between
from pipeline.teams.models import Team
from sessions.models import CrewPlace, DiscoverySession, Format, Part, State


class Cause(IntEnum):
    """What decided: in the numbers of `pipeline.stats.incidence`."""

    LEFT_OUT = -1
    OPEN = 0
    ENGAGED = 1
    CLOSED = 2


@dataclass(frozen=True)
class Grouping:
    """Leads that are alike in something: what they share, in SQL and in words."""

    key: str
    # What a group is called, in SQL; NULL: not known.
    name: str
    heading: str
    plural: str
    nameless: str
    # In which names come; empty: by their code points.
    order: tuple[str, ...] = ()

    def place(self, name: str | None) -> tuple[bool, int, str]:
        """Where a group comes among the others; not known comes last."""
        place = self.order.index(name) if name in self.order else len(self.order)
        return name is None, place, name or ""


TOGETHER = Grouping("team", "NULL", "Team", "teams", "all leads")
BY_FORMAT = Grouping("formats", "format_name", "Format", "formats", "format not known")
BY_VERSION = Grouping(
    "formats",
    "format_name || ' (version ' || CAST(format_version AS TEXT) || ')'",
    "Format and version",
    "versions",
    "format not known",
)
BY_SOURCE = Grouping("sources", "source_name", "Source", "sources", "source not known")
BY_ATTENDEES = Grouping(
    "attendees",
    NAME_OF_BAND,
    "People who came",
    "numbers of people",
    "not known",
    order=tuple(band.name for band in BANDS),
)

# Rows are numbered in one pass: looked up lead by lead, they take SQLite the square of their
# number. A lead's fields come after its facts, so that only one row a lead carries them. Each
# reads the one before it.
RELATIONS = {
    "held": """
        SELECT id, lead_id, day, format_id, attendee_count,
            ROW_NUMBER() OVER (PARTITION BY lead_id ORDER BY day, id) AS number
        FROM {session}
        WHERE team_id = %(team)s AND state = '{held}' AND day <= %(as_of)s
    """,
    "decided": """
        SELECT held.lead_id, held.id AS session_id, held.day AS index_day, held.format_id,
            held.attendee_count AS attendees,
            MIN(decision.day) FILTER (WHERE decision.kind = '{engaged}') AS engaged_on,
            MIN(decision.day) FILTER (WHERE decision.kind IN ({closed})) AS closed_on,
            MIN(decision.day) FILTER (
                WHERE decision.kind = '{no_budget}' AND decision.day >= held.day
            ) AS no_budget_on
        FROM held
        LEFT JOIN {decision} decision ON decision.team_id = %(team)s
            AND decision.lead_id = held.lead_id AND decision.day <= %(as_of)s
        WHERE held.number = 1
        GROUP BY held.lead_id, held.id, held.day, held.format_id, held.attendee_count
    """,
    "described": """
        SELECT decided.*, format.name AS format_name, format.version AS format_version,
            crew.member_id AS facilitator_id, lead.source_id, source.name AS source_name,
            lead.owner_id, lead.budget_at_entry AS budget, lead.expected_fee, lead.currency,
            lead.followed_since,
            CASE
                WHEN engaged_on < decided.index_day OR closed_on < decided.index_day THEN -1
                WHEN engaged_on <= COALESCE(closed_on, engaged_on) THEN 1
                WHEN closed_on IS NOT NULL THEN 2
                ELSE 0
            END AS cause
        FROM decided
        JOIN {lead} lead ON lead.id = decided.lead_id AND lead.merged_into_id IS NULL
        LEFT JOIN {format} format ON format.id = decided.format_id
        LEFT JOIN {source} source ON source.id = lead.source_id
        LEFT JOIN {crew} crew ON crew.team_id = %(team)s AND crew.session_id = decided.session_id
            AND crew.part = '{facilitator}'
    """,
    "ended": """
        SELECT described.*,
            CASE cause WHEN 1 THEN engaged_on WHEN 2 THEN closed_on WHEN 0 THEN %(as_of)s
                ELSE index_day END AS ended_on
        FROM described
        WHERE {filters}
    """,
    "entered": """
        SELECT ended.*, {days} AS days, engagement.fee, CASE
                WHEN engagement.fee IS NOT NULL
                THEN COALESCE(NULLIF(engagement.currency, ''), ended.currency)
            END AS fee_currency
        FROM ended
        LEFT JOIN {decision} engagement ON engagement.team_id = %(team)s
            AND engagement.lead_id = ended.lead_id AND engagement.kind = '{engaged}'
            AND engagement.day = ended.engaged_on AND ended.cause = 1
    """,
    "counted": """
        SELECT * FROM entered WHERE cause >= 0
    """,
    "waiting": """
        SELECT counted.*, {waited} AS waited,
            CASE WHEN followed_since > no_budget_on THEN {entry} ELSE 0 END AS entry
        FROM counted
        WHERE no_budget_on <= ended_on
    """,
    "waits": """
        SELECT waiting.*, CASE WHEN entry = 0 OR entry < waited THEN 1 ELSE 0 END AS on_curve
        FROM waiting
    """,
    "with_funding": """
        SELECT waits.*, (
                SELECT MIN(funding.arrived_on)
                FROM {funding} funding
                WHERE funding.team_id = %(team)s AND funding.lead_id = waits.lead_id
                    AND funding.arrived_on BETWEEN waits.no_budget_on AND %(as_of)s
            ) AS funded_on
        FROM waits
    """,
}


@dataclass(frozen=True)
class Cohort:
    """The leads of a team that the figures are about, by the facts dated `as_of` or earlier."""

    team: Team
    as_of: date
    filters: Filters = field(default_factory=Filters)

    @property
    def by_format(self) -> Grouping:
        """Formats by name, or each version by itself where the filters say so."""
        return BY_VERSION if self.filters.versions_apart else BY_FORMAT

    def ask(self, select: str, **parameters: Any) -> list[tuple[Any, ...]]:
        """Return the rows of a SELECT on the relations above.

        It may begin with ``, name AS (…)`` to add a relation of its own.
        """
        text, own = self.relations(select)
        with connection.cursor() as cursor:
            cursor.execute(f"{text} {select}", {**own, **parameters})
            rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows

    def days(self, first: str, last: str) -> str:
        """Return SQL for the whole days between two columns."""
        return days_between(first, last)

    def relations(self, select: str) -> tuple[str, dict[str, Any]]:
        """Return the WITH that a SELECT needs, and its parameters.

        It holds nothing beyond: PostgreSQL computes a relation by itself, with all its columns,
        where another one mentions it too, even if nobody asks for that one.
        """
        named = [
            place for place, name in enumerate(RELATIONS) if re.search(rf"\b{name}\b", select)
        ]
        needed = list(RELATIONS.items())[: max(named) + 1]
        filters, parameters = self.filters.where()
        text = ", ".join(f"{name} AS ({body})" for name, body in needed).format(
            session=DiscoverySession._meta.db_table,
            decision=Decision._meta.db_table,
            funding=Funding._meta.db_table,
            lead=Lead._meta.db_table,
            source=Source._meta.db_table,
            format=Format._meta.db_table,
            crew=CrewPlace._meta.db_table,
            held=State.HELD.value,
            engaged=DecisionKind.ENGAGED.value,
            closed=", ".join(f"'{kind.value}'" for kind in sorted(CLOSED_BY)),
            no_budget=DecisionKind.NO_BUDGET.value,
            facilitator=Part.FACILITATOR.value,
            filters=filters,
            days=days_between("index_day", "ended_on"),
            waited=days_between("no_budget_on", "ended_on"),
            entry=days_between("no_budget_on", "followed_since"),
        )
        return f"WITH {text}", {
            "team": self.team.pk,
            "as_of": as_parameter(self.as_of),
            **parameters,
        }
