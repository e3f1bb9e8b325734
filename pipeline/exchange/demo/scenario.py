"""The demo's two agencies: who works there, what they offer, how many leads they had."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from django.db import transaction

from pipeline.exchange.founding import found_team
from pipeline.exchange.welcome import DEMO_ADDRESS, DEMO_PASSWORD
from pipeline.jobs.models import Job
from pipeline.locks.asking import as_team, as_user
from pipeline.teams.membership import join
from pipeline.teams.models import Member, Role, Team
from sessions.formats import ensure_formats
from sessions.models import Catch, Format, Promise, Step, Way

from . import names
from .play import Player

DAYS = 3 * 365


@dataclass(frozen=True)
class Agency:
    """One invented agency."""

    name: str
    slug: str
    timezone: str
    country: str
    subdivision: str
    currency: str
    colleagues: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]
    leads: int


AGENCIES = (
    Agency(
        name="Lanternfish Workshops",
        slug="lanternfish",
        timezone="Europe/Lisbon",
        country="PT",
        subdivision="",
        currency="EUR",
        colleagues=(
            ("Benedikt Oyelaran", Role.MEMBER),
            ("Soraya Tavares-Holt", Role.MEMBER),
            ("Ottoline Grüneisen", Role.READER),
        ),
        sources=("referral", "newsletter", "conference talk", "earlier client"),
        leads=84,
    ),
    Agency(
        name="Thistle and Plumb",
        slug="thistle-and-plumb",
        timezone="America/Halifax",
        country="CA",
        subdivision="NS",
        currency="CAD",
        colleagues=(("Marguerite Zubiri", Role.MEMBER), ("Desmond Vanterpool", Role.MEMBER)),
        sources=("referral", "web page", "trade fair"),
        leads=36,
    ),
)

# A third format, so that there is something to compare: (title, minutes, way of working, what is
# caught).
SERVICE_WALK = (
    ("Welcome, and what this is for", 5, Way.TALK, Catch.NOTHING),
    ("One visit, told from door to door", 15, Way.TALK, Catch.THEMES),
    ("Where it stuck: a line each", 6, Way.WRITE, Catch.STATEMENTS),
    ("Read aloud, sort together", 8, Way.TALK, Catch.THEMES),
    ("Which three first", 4, Way.VOTE, Catch.VOTES),
    ("What happens next", 4, Way.TALK, Catch.THEMES),
)
STUCK = "It stuck where …"


@transaction.atomic
def load(*, now: datetime) -> list[Team]:
    """Store both agencies with their three years of leads, seen from ``now``.

    The same day gives the same scenario. Everything goes through the services that people's
    clicks go through.
    """
    return [_load(agency, now) for agency in AGENCIES]


def _load(agency: Agency, now: datetime) -> Team:
    team, owner = found_team(
        name=agency.name,
        slug=agency.slug,
        owner_email=DEMO_ADDRESS,
        owner_name="Ines Halloran-Pike",
        timezone=agency.timezone,
        country=agency.country,
        subdivision=agency.subdivision,
        currency=agency.currency,
        now=now,
    )
    with as_team(team.pk):
        _fill(agency, team, owner, now)
    return team


def _fill(agency: Agency, team: Team, owner: Member, now: datetime) -> None:
    owner.user.set_password(DEMO_PASSWORD)
    owner.user.save(update_fields=["password"])
    colleagues = [
        join(
            team=team,
            email=f"{names.slug(name.split()[0])}@{agency.slug}.example",
            name=name,
            role=role,
        )
        for name, role in agency.colleagues
    ]
    _service_walk(team)
    today, random = team.today(now), Random(agency.slug)
    formats, members = _formats(team), _who_write([owner, *colleagues])
    organisations = names.organisations(agency.leads, random)
    for organisation, age in zip(organisations, _ages(agency.leads, random), strict=True):
        # Each story is drawn by itself, so that it is nearly the same whatever day it is.
        player = Player(team, members, formats, agency.sources, now, Random(organisation))
        player.play(organisation, today - timedelta(days=age))
    # Of what is long past nobody is told now.
    Job.objects.for_team(team).filter(due_at__lte=now).delete()


def _ages(count: int, random: Random) -> list[int]:
    """Return how many days ago each lead enquired: the eldest first, some in these weeks."""
    recent = [0, 1, 3, 6, 10, 15, 21, 28]
    older = (random.randrange(30, DAYS) for _ in range(count - len(recent)))
    return sorted([*older, *recent], reverse=True)


def _who_write(members: list[Member]) -> list[Member]:
    return [member for member in members if member.writes]


def _formats(team: Team) -> dict[str, Format]:
    ensure_formats(team)
    return {format.name: format for format in Format.objects.for_team(team).for_booking()}


def _service_walk(team: Team) -> None:
    walk = Format.objects.create(
        team=team, name="Service walk", minutes=45, purpose="One visit, seen from the visitor."
    )
    Step.objects.bulk_create(
        Step(
            team=team,
            format=walk,
            position=position,
            title=title,
            minutes=minutes,
            way=way,
            catches=catches,
            prompt=STUCK if catches == Catch.STATEMENTS else "",
        )
        for position, (title, minutes, way, catches) in enumerate(SERVICE_WALK, start=1)
    )
    Promise.objects.create(team=team, format=walk, title="Takeaway", working_days=5)


@transaction.atomic
def remove() -> int:
    """Remove the demo's teams with all their rows, and its people; return how many teams."""
    teams = Team.objects.filter(slug__in=[agency.slug for agency in AGENCIES])
    found = list(teams)
    for team in found:
        _erase(team)
    return len(found)


def _erase(team: Team) -> None:
    with as_team(team.pk):
        people = [member.user for member in team.members.select_related("user")]
        Format.objects.filter(team=team).update(retired_on=None)
        team.delete()
    for person in people:
        with as_user(person.pk):
            if not person.memberships.exists():
                person.delete()
