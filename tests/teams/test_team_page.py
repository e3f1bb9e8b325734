"""The team's page and settings: owners edit, members and readers see."""

from datetime import date

import pytest
from django.urls import reverse

from pipeline.teams.days_off import written
from pipeline.teams.models import Team
from tests.factories import AbsenceFactory


def settings_of(team: Team, **changes: object) -> dict[str, object]:
    """Return what a browser posts from the settings page."""
    return {
        "version": team.version,
        "name": team.name,
        "timezone": team.timezone,
        "country": team.country,
        "subdivision": team.subdivision,
        "working_days": team.working_days,
        "days_off": written(team.days_off),
        "currency": team.currency,
        "digest_hour": team.digest_hour,
        "weekly_free_minutes": team.weekly_free_minutes / 60,
        "least_chance": team.least_chance,
        "day_starts": "09:00",
        "day_ends": "17:00",
        "colour": team.colour,
        **changes,
    }


@pytest.mark.parametrize("role", ["owner", "member", "reader"])
def test_everybody_in_the_team_sees_its_members_and_settings(cast, sign_in, role):
    page = sign_in(getattr(cast, role)).get(reverse("team", args=["harbour"])).content.decode()
    assert "Olive Brandt" in page
    assert "Monday, Tuesday, Wednesday, Thursday, Friday" in page
    assert "4 h" in page
    assert ("Change the settings" in page) is (role == "owner")
    assert ("Set role" in page) is (role == "owner")


def test_the_page_takes_as_many_queries_for_many_members(cast, sign_in, django_assert_num_queries):
    browser = sign_in(cast.reader)
    for day in (4, 5):
        AbsenceFactory(member=cast.member, stand_in=cast.owner, first_day=date(2026, 3, day))
    # login session, user, member with team at the door, members with users, absences
    with django_assert_num_queries(5):
        browser.get(reverse("team", args=["harbour"]))


def test_an_owner_changes_every_setting(cast, sign_in):
    changed = settings_of(
        cast.team,
        name="Harbour & Sons",
        timezone="Europe/Berlin",
        country="DE",
        subdivision="by",
        working_days=["0", "2", "3"],
        currency="CHF",
        digest_hour=7,
        weekly_free_minutes="1.5",
        least_chance="8",
    )
    answer = sign_in(cast.owner).post(reverse("team-settings", args=["harbour"]), changed)
    assert answer.status_code == 302
    team = Team.objects.get(slug="harbour")
    assert (team.name, team.timezone, team.country, team.subdivision) == (
        "Harbour & Sons",
        "Europe/Berlin",
        "DE",
        "BY",
    )
    assert (team.working_days, team.currency) == ([0, 2, 3], "CHF")
    assert (team.digest_hour, team.weekly_free_minutes, team.least_chance) == (7, 90, 8)
    assert team.version == 2


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("name", "", "This field is required."),
        ("timezone", "Mars/Olympus", "not one of the available choices"),
        ("country", "ZZ", "not one of the available choices"),
        ("subdivision", "BY", "Not a subdivision of PT"),
        ("working_days", [], "Choose at least one working day."),
        ("working_days", ["7"], "not one of the available choices"),
        ("currency", "XYZ", "not one of the available choices"),
        ("digest_hour", "24", "not one of the available choices"),
        ("weekly_free_minutes", "0", "greater than or equal to 0.25"),
        ("weekly_free_minutes", "lots", "Enter a number."),
        ("day_ends", "08:00", "must end after it starts"),
        ("day_starts", "noon", "Give an hour, such as 09:00."),
        ("least_chance", "0", "greater than or equal to 1"),
        ("least_chance", "51", "less than or equal to 50"),
    ],
)
def test_a_wrong_setting_is_named_and_what_was_typed_is_kept(cast, sign_in, field, typed, said):
    changed = settings_of(cast.team, name="Typed Name")
    changed[field] = typed
    answer = sign_in(cast.owner).post(reverse("team-settings", args=["harbour"]), changed)
    assert answer.status_code == 422
    assert said in " ".join(answer.context["form"].errors[field])
    assert field == "name" or "Typed Name" in answer.content.decode()
    assert Team.objects.get(slug="harbour").name == "Harbour Studio"


def test_of_two_owners_the_second_sees_both_versions_and_takes_one(cast, sign_in):
    browser = sign_in(cast.owner)
    url = reverse("team-settings", args=["harbour"])
    # Each opened version 1; the first is quicker.
    browser.post(url, settings_of(cast.team, name="Harbour One", working_days=["0", "1"]))
    late = settings_of(cast.team, name="Harbour Two") | {
        "initial-name": "Harbour Studio",
        "initial-working_days": ["0", "1", "2", "3", "4"],
        "initial-weekly_free_minutes": "4",
    }
    answer = browser.post(url, late)
    assert answer.status_code == 409
    seen = {d.name: d for d in answer.context["differences"]}
    assert set(seen) == {"name", "working_days"}
    assert (seen["name"].typed, seen["name"].stored) == ("Harbour Two", "Harbour One")
    assert not seen["name"].untouched
    assert seen["working_days"].stored == "Monday, Tuesday"
    assert seen["working_days"].untouched

    form = answer.context["form"]
    again = {name: form.data.getlist(name) for name in form.data} | {"take": ["working_days"]}
    assert browser.post(url, again).status_code == 302
    team = Team.objects.get(slug="harbour")
    assert (team.name, team.working_days) == ("Harbour Two", [0, 1])


def test_the_second_click_on_save_says_that_it_was_saved(cast, sign_in):
    browser = sign_in(cast.owner)
    url = reverse("team-settings", args=["harbour"])
    typed = settings_of(cast.team, name="Harbour One")
    browser.post(url, typed)
    answer = browser.post(url, typed, follow=True)
    assert "saved already" in answer.content.decode()
    assert Team.objects.get(slug="harbour").version == 2


@pytest.mark.parametrize("minutes", [1, 20, 50, 240, 777, 10080])
def test_free_hours_that_nobody_touched_come_back_to_the_same_minutes(minutes):
    from pipeline.teams.settings_form import HoursField

    field = HoursField(decimal_places=2)
    assert field.clean(field.prepare_value(minutes)) == minutes
