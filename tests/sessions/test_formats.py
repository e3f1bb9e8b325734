"""Every team starts with two formats, once."""

from sessions.formats import ensure_formats
from sessions.models import Format, Promise, Step
from tests.factories import FormatFactory


def test_a_team_gets_an_hour_and_a_half_hour_with_steps_and_promises(cast):
    ensure_formats(cast.team)
    formats = Format.objects.for_team(cast.team).with_agenda()
    assert [(f.name, f.minutes) for f in formats] == [
        ("Discovery half-hour", 30),
        ("Discovery hour", 60),
    ]
    assert [[p.title for p in f.promises.all()] for f in formats] == [["Takeaway"], ["Takeaway"]]
    assert all(f.steps.count() >= 5 for f in formats)
    assert not Format.objects.for_team(cast.other_team).exists()


def test_asking_twice_doubles_nothing(cast):
    ensure_formats(cast.team)
    before = [t.objects.count() for t in (Format, Step, Promise)]
    ensure_formats(cast.team)
    assert [t.objects.count() for t in (Format, Step, Promise)] == before


def test_a_format_of_that_name_that_the_team_made_itself_is_left_alone(cast):
    own = FormatFactory(team=cast.team, name="Discovery hour", minutes=50)
    ensure_formats(cast.team)
    own.refresh_from_db()
    assert own.minutes == 50
    assert not own.steps.exists()
