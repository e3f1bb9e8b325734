"""A sheet of 5,000 rows with some dozens broken agrees with a count by plain dictionaries."""

from __future__ import annotations

import json
import random
from collections import defaultdict
from datetime import date, timedelta
from io import StringIO

from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pipeline.leads.models import Contact, Decision, Funding, Lead
from sessions.models import Deliverable, DiscoverySession, State
from tests.conftest import TODAY
from tests.exchange.sheets import bring, faults, sheet

ROWS = 5000
KINDS = ["engaged", "no budget yet", "declined", "gone quiet", "turned away"]
BREAK = [
    ("organisation", ""),
    ("session_on", "2025-02-30"),
    ("session_status", "done"),
    ("decision", "perhaps"),
    ("decided_on", str(TODAY + timedelta(days=1))),
    ("fee", "-1"),
    ("attendees", "some"),
    ("currency", "ABC"),
    ("contact_email", "nobody"),
    ("organisation", "Somebody Else"),
]


def made() -> tuple[list[dict[str, str]], set[int]]:
    """Return rows by a fixed seed, and the lines of those that were broken."""
    dice = random.Random(20260303)

    def day() -> date:
        return TODAY - timedelta(days=dice.randrange(1000))

    rows, broken = [], set()
    for n in range(ROWS):
        ref = f"L{dice.randrange(2200)}" if dice.random() < 0.8 else ""
        first, later = sorted((day(), day()))
        held = dice.choice(["held", "held", "missed", "cancelled", "booked"])
        row = {
            "lead_ref": ref,
            "organisation": f"Org {ref or n % 40}",
            "contact_email": f"p{dice.randrange(3)}@{ref.lower() or n}.example",
            "session_on": str(day()),
            "session_status": held,
            "format": f"Format {dice.randrange(4)}",
            "attendees": str(dice.randrange(9)),
            "deliverable": dice.choice(["", "Takeaway"]),
            "decision": dice.choice(KINDS),
            "decided_on": str(first),
            "later_decision": dice.choice(KINDS),
            "later_decided_on": str(later),
            "funding_arrived_on": dice.choice(["", str(day())]),
            "fee": "5000",
            "currency": "EUR",
        }
        # a row that opens a reference is left whole, so that the organisation stands
        opens = ref and all(r["lead_ref"] != ref for r in rows)
        if n % 61 == 5 and not opens:
            column, value = BREAK[(n // 61) % len(BREAK)]
            if not (value == "Somebody Else" and not ref):
                row[column] = value
                broken.add(n + 2)
        rows.append(row)
    return rows, broken


def test_it_agrees_with_a_count_by_plain_dictionaries(cast):
    rows, broken = made()
    assert 36 <= len(broken) <= 80
    with CaptureQueriesContext(connection) as captured:
        report = bring(cast.team, sheet(rows, rows[0]))

    assert {line for line, _ in faults(report)} == broken
    assert report.rows == ROWS
    # far fewer than one a row, though SQLite takes few rows at a time
    assert len(captured) < ROWS / 3

    leads = defaultdict(list)
    for n, row in enumerate(rows):
        if n + 2 not in broken:
            leads[row["lead_ref"] or n].append(row)
    sessions, held_first = set(), {}
    decisions, people, money, promised = set(), set(), set(), set()
    for key, of_lead in leads.items():
        for row in of_lead:
            at = (key, row["session_on"], row["format"])
            sessions.add(at)
            people.add((key, row["contact_email"]))
            decisions.add((key, row["decision"], row["decided_on"]))
            decisions.add((key, row["later_decision"], row["later_decided_on"]))
            if row["funding_arrived_on"]:
                money.add((key, row["funding_arrived_on"]))
            if row["deliverable"]:
                promised.add(at)
        days = [
            (r["session_on"], n) for n, r in enumerate(of_lead) if r["session_status"] == "held"
        ]
        if days:
            first = min(days)
            held_first[key] = (first[0], of_lead[first[1]]["format"])

    assert Lead.objects.count() == report.leads_new == len(leads)
    assert DiscoverySession.objects.count() == len(sessions)
    assert Contact.objects.count() == len(people)
    assert Decision.objects.count() == len(decisions)
    assert Funding.objects.count() == len(money)
    assert Deliverable.objects.count() == len(promised)
    assert DiscoverySession.objects.filter(state=State.HELD).count() == len(
        {
            (key, r["session_on"], r["format"])
            for key, of_lead in leads.items()
            for r in of_lead
            if r["session_status"] == "held"
        }
    )
    stored = Lead.objects.exclude(index_day=None).filter(fingerprint=None)
    index = stored.values_list("reference", "index_day", "index_format__name")
    assert {ref: (str(day), name) for ref, day, name in index} == {
        key: value for key, value in held_first.items() if isinstance(key, str)
    }
    assert Lead.objects.exclude(index_day=None).count() == len(held_first)

    out = StringIO()
    call_command("results", team=cast.team.slug, format="json", stdout=out)
    overall = json.loads(out.getvalue())["overall"]
    assert {name: overall[name] for name in COUNTS} == outcomes(leads, held_first)


COUNTS = ("leads_with_session", "excluded", "engaged", "closed", "open", "reopened")


def outcomes(leads: dict, held_first: dict) -> dict[str, int]:
    """Return what came of the leads with a held session, by the definitions of the results."""
    count = dict.fromkeys(COUNTS, 0)
    for key, (index, _) in held_first.items():
        decided = [
            (row[day], row[kind])
            for row in leads[key]
            for kind, day in (("decision", "decided_on"), ("later_decision", "later_decided_on"))
        ]
        engaged = [day for day, kind in decided if kind == "engaged"]
        closed = [day for day, kind in decided if kind in ("declined", "turned away")]
        if min(engaged + closed, default="9") < index:
            count["excluded"] += 1
            continue
        count["leads_with_session"] += 1
        if engaged and min(engaged) <= min(closed, default="9"):
            count["engaged"] += 1
        elif closed:
            count["closed"] += 1
            count["reopened"] += bool(engaged)
        else:
            count["open"] += 1
    return count
