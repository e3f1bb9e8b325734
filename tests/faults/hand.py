"""Whoever uses the app: reads what to do from standard input, and notes what was stored.

``team``: make the team and its owner; ``letters N``: write the letters up to number N;
``digests TEAMS MEMBERS``: make teams whose members are to get a digest, half of them of a beat
that was down for three days; ``early N``: write letters that are due in half an hour.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")
django.setup()

from django.db import DatabaseError, connection, transaction  # noqa: E402

import pipeline.celery  # noqa: E402, F401  (whose broker is told of what is due)
from pipeline.clock import moment  # noqa: E402
from pipeline.followups.models import FollowUp  # noqa: E402
from pipeline.jobs.models import Daily, Round, moment_of  # noqa: E402
from pipeline.leads.models import Lead  # noqa: E402
from pipeline.mail.outbox import write  # noqa: E402
from pipeline.teams.models import Member, Role, Team, User  # noqa: E402
from tests.faults import disk  # noqa: E402
from tests.faults.browser import OWNER, PASSWORD  # noqa: E402

GAP = timedelta(days=3)
NOW, HALF_AN_HOUR = timedelta(), timedelta(minutes=30)
EVERY_DAY = list(range(7))


def note(**values: Any) -> None:
    """Write a line that the rig reads."""
    sys.stdout.write(json.dumps(values) + "\n")
    sys.stdout.flush()


def insist(work: Callable[[], None]) -> None:
    """Do ``work`` in one transaction, again and again until it is stored."""
    while True:
        try:
            with transaction.atomic():
                work()
            return
        except DatabaseError:
            connection.close()
            time.sleep(0.1)


def team() -> None:
    """Make the team of the letters and forms, and its owner."""

    def make() -> None:
        found = Team.objects.create(name="Faults", slug="faults")
        user = User.objects.create_user(OWNER, name="Ona", password=PASSWORD)
        Member.objects.create(team=found, user=user, role=Role.OWNER)

    insist(make)


class Letters:
    """Letters with numbers, one after the other."""

    def __init__(self) -> None:
        self._written = 0

    def up_to(self, last: int) -> None:
        """Write the letters up to number ``last``; one in ten a second time, taken back."""
        for number in range(self._written + 1, last + 1):
            to = f"letter-{number}@faults.example"
            insist(lambda to=to: one(to))
            note(promised=to)
            if number % 10 == 0:
                gone = f"never-{number}@faults.example"
                note(never=gone)
                insist(lambda gone=gone: taken_back(gone))
        self._written = max(self._written, last)

    def early(self, count: int) -> None:
        """Write letters that are due in half an hour: by a clock that is an hour ahead, now."""
        for number in range(count):
            to = f"early-{number}@faults.example"
            note(never=to)
            insist(lambda to=to: one(to, after=HALF_AN_HOUR))


def one(to: str, *, after: timedelta = NOW) -> None:
    found = Team.objects.get(slug="faults")
    text = f"To {to}.\n" + "Nothing of this is lost.\n" * 60
    due_at = moment.shared() + after
    write(team=found, key=to, to=to, subject=to, text=text, due_at=due_at)


def taken_back(to: str) -> None:
    one(to)
    transaction.set_rollback(True)


def digests(teams: int, members: int) -> None:
    """Make teams in which each member has something due today, and is to get one digest."""
    now = moment.shared()
    # A zone in which it is about noon: no new day comes while this runs.
    zone = f"Etc/GMT{now.hour - 12:+d}" if now.hour != 12 else "UTC"
    for number in range(teams):
        insist(lambda number=number: digest_team(number, members, zone, now))
        for member in range(members):
            note(promised=address(number, member))


def address(number: int, member: int) -> str:
    return f"member-{number}-{member}@faults.example"


def digest_team(number: int, members: int, zone: str, now: datetime) -> None:
    made = Team.objects.create(
        name=f"Team {number}",
        slug=f"team-{number}",
        timezone=zone,
        working_days=EVERY_DAY,
        digest_hour=0,
    )
    for member in range(members):
        user = User.objects.create_user(address(number, member), name=f"Member {member}")
        Member.objects.create(team=made, user=user, wants_review=False)
    today = made.today(now)
    lead = Lead.objects.create(
        team=made, organisation="Alder Mill", currency="EUR", created_at=now
    )
    FollowUp.objects.create(
        team=made, lead=lead, key="by hand", action="Write", due_on=today, created_at=now
    )
    if number % 2:
        for kind in Daily.values:
            day = today - GAP
            due_at = moment_of(made, kind, day)
            Round.objects.create(
                team=made,
                kind=kind,
                day=day,
                due_at=due_at,
                next_attempt_at=due_at,
                team_version=made.version,
            )


def main() -> None:
    """Do what is asked for, line by line."""
    disk.watch()
    letters = Letters()
    known: dict[str, Callable[..., None]] = {
        "team": team,
        "letters": letters.up_to,
        "early": letters.early,
        "digests": digests,
    }
    for line in sys.stdin:
        name, *numbers = line.split()
        known[name](*map(int, numbers))
        note(done=line.strip())


if __name__ == "__main__":
    main()
