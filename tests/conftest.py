"""The cast: two teams that share the instance, and a stranger; the clock stands still."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

import pytest
from django.conf import settings
from django.test import Client
from hypothesis import settings as made_up

from pipeline.clock import moment
from pipeline.teams.models import Member, Role, Team, User

# Made-up input is judged by what comes out, not by how long it took.
made_up.register_profile("untimed", deadline=None)
made_up.load_profile("untimed")

# A Tuesday, nine in the morning in Lisbon.
NOW = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
TODAY = date(2026, 3, 3)


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    """Stop the clock at NOW; a test that moves it nests ``moment.stopped``."""
    with moment.stopped(NOW):
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix, tmp_path_factory
) -> None:
    """Keep SQLite's test database in a file: only there do threads wait for each other."""
    database = settings.DATABASES["default"]
    if not settings.ON_SERVER:
        file = tmp_path_factory.mktemp("database") / "test.sqlite3"
        database.setdefault("TEST", {})["NAME"] = str(file)


@pytest.fixture(autouse=True)
def files(settings, tmp_path):
    """Keep uploads in the test's own folder."""
    settings.MEDIA_ROOT = tmp_path / "files"


@dataclass
class Cast:
    """Everybody a test needs."""

    team: Team
    owner: Member
    member: Member
    reader: Member
    other_team: Team
    other_owner: Member
    stranger: User


@pytest.fixture
def cast(db) -> Cast:
    """Harbour Studio with an owner, a member and a reader; Quarry Works; and a stranger."""
    team = Team.objects.create(
        name="Harbour Studio", slug="harbour", timezone="Europe/Lisbon", country="PT"
    )
    other = Team.objects.create(
        name="Quarry Works",
        slug="quarry",
        timezone="America/New_York",
        country="US",
        currency="USD",
    )

    def member(of: Team, name: str, role: str) -> Member:
        address = f"{name.split()[0].lower()}@{of.slug}.example"
        user = User.objects.create_user(address, name=name)
        return Member.objects.create(team=of, user=user, role=role)

    return Cast(
        team=team,
        owner=member(team, "Olive Brandt", Role.OWNER),
        member=member(team, "Mateus Coelho", Role.MEMBER),
        reader=member(team, "Rea Lindqvist", Role.READER),
        other_team=other,
        other_owner=member(other, "Quin Abara", Role.OWNER),
        stranger=User.objects.create_user("stan@nowhere.example", name="Stan Loth"),
    )


@pytest.fixture
def sign_in() -> Callable[[Member | User], Client]:
    """Return a function that gives a signed-in browser of a member or a user."""

    def signed_in(who: Member | User) -> Client:
        client = Client()
        client.force_login(who.user if isinstance(who, Member) else who)
        return client

    return signed_in
