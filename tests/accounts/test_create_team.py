"""``manage.py create_team``: a team that can begin, a link for its owner, errors in one line."""

import re
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from pipeline.followups.models import PlanStep
from pipeline.teams.models import Member, Role, Team, User
from sessions.models import Format

RIGHT = {
    "slug": "tarn",
    "owner_email": "vashti@tarn.example",
    "timezone": "Europe/Berlin",
    "country": "DE",
}


def create(name: str = "Tarn & Co", **changes: str) -> str:
    out = StringIO()
    call_command("create_team", name, **{**RIGHT, **changes}, stdout=out)
    return out.getvalue()


def test_a_team_begins_with_an_owner_formats_and_a_plan(db):
    create(subdivision="BY", currency="CHF")
    team = Team.objects.get(slug="tarn")
    assert (team.name, team.timezone, team.country) == ("Tarn & Co", "Europe/Berlin", "DE")
    assert (team.subdivision, team.currency) == ("BY", "CHF")
    assert [(m.user.email, m.role) for m in Member.objects.for_team(team)] == [
        ("vashti@tarn.example", Role.OWNER)
    ]
    assert sorted(Format.objects.for_team(team).values_list("minutes", flat=True)) == [30, 60]
    assert PlanStep.objects.for_team(team).exists()


def test_the_printed_link_signs_the_owner_in_once(db, settings):
    (link,) = re.findall(rf"{settings.BASE_URL}(/link/\S+)", create())
    browser = Client()
    password = "seven quiet harbours"
    browser.post(link, {"new_password1": password, "new_password2": password})
    assert browser.get(reverse("start", args=["tarn"])).status_code == 200
    assert Client().get(link).status_code == 410


def test_a_person_known_by_the_address_owns_the_new_team_too(cast):
    create(owner_email="OLIVE@harbour.example")
    assert User.objects.filter(email__iexact="olive@harbour.example").count() == 1
    assert set(cast.owner.user.memberships.values_list("team__slug", "role")) == {
        ("harbour", "owner"),
        ("tarn", "owner"),
    }


@pytest.mark.parametrize(
    ("wrong", "option"),
    [
        ({"name": " "}, "NAME"),
        ({"name": "x" * 121}, "NAME"),
        ({"slug": "no spaces"}, "--slug"),
        ({"slug": "harbour"}, "--slug"),
        ({"owner_email": "nobody"}, "--owner"),
        ({"timezone": "Berlin"}, "--timezone"),
        ({"country": "Germany"}, "--country"),
        ({"country": "de"}, "--country"),
        ({"subdivision": "XX"}, "--subdivision"),
        ({"currency": "Euro"}, "--currency"),
    ],
)
def test_a_wrong_option_is_named_in_one_line_and_nothing_is_stored(cast, wrong, option):
    before = (Team.objects.count(), User.objects.count(), Member.objects.count())
    with pytest.raises(CommandError) as refused:
        create(**wrong)
    assert str(refused.value).startswith(f"{option}: ")
    assert "\n" not in str(refused.value)
    assert (Team.objects.count(), User.objects.count(), Member.objects.count()) == before
