"""Changing a session in the browser, also when somebody else does."""

from datetime import date

from pipeline.teams.membership import join
from pipeline.teams.models import Role
from sessions.booking import amend
from sessions.models import DiscoverySession
from tests.conftest import NOW

from .pages import at, box_of, editing


def test_the_page_changes_hour_crew_count_and_effort(cast, sign_in, booked):
    page = at(cast.team, "session-edit", booked.pk)
    browser = sign_in(cast.member)
    assert browser.get(page).status_code == 200
    post = editing(
        booked,
        starts_at="2026-03-02T16:00",
        facilitator=cast.member.pk,
        note_taker="",
        supports=[cast.owner.pk],
        attendee_count="4",
        effort_before="30",
        effort_after="120",
    )
    assert browser.post(page, post).status_code == 302
    booked.refresh_from_db()
    assert (booked.day, booked.attendee_count, booked.effort) == (date(2026, 3, 2), 4, 150)
    assert dict(booked.crew.values_list("part", "member")) == {
        "facilitator": cast.member.pk,
        "support": cast.owner.pk,
    }


def test_the_second_of_two_writers_sees_both_versions_and_loses_nothing(cast, sign_in, booked):
    page = at(cast.team, "session-edit", booked.pk)
    mine = editing(booked, place="my place", note_taker="")
    amend(
        session=booked,
        member=cast.owner,
        now=NOW,
        minutes=45,
        plain={"place": "their place"},
    )

    browser = sign_in(cast.member)
    conflict = browser.post(page, mine)
    words = conflict.content.decode()
    assert conflict.status_code == 409
    assert "my place" in words
    assert "their place" in words
    assert "Note-taker" in words
    differing = {d.name: d.untouched for d in conflict.context["differences"]}
    assert differing == {"minutes": True, "place": False, "note_taker": False}
    booked.refresh_from_db()
    assert (booked.place, booked.minutes) == ("their place", 45)

    chosen = mine | {"version": booked.version, "take": ["minutes"]}
    assert browser.post(page, chosen).status_code == 302
    booked.refresh_from_db()
    assert (booked.place, booked.minutes) == ("my place", 45)
    assert not booked.crew.filter(part="note-taker").exists()


def test_moving_into_a_taken_hour_warns_and_the_box_moves_it(cast, sign_in, booked, lead, hour):
    other = DiscoverySession.objects.get(pk=booked.pk)
    page = at(cast.team, "session-edit", booked.pk)
    cast.team.weekly_free_minutes = 30
    cast.team.save()
    browser = sign_in(cast.member)

    post = editing(other, starts_at="2026-03-05T10:00")
    warned = browser.post(page, post)
    assert warned.status_code == 422
    assert "limit is 30 min" in warned.content.decode()
    accepted = post | {"all_the_same": box_of(warned, "all_the_same")}
    assert browser.post(page, accepted).status_code == 302
    booked.refresh_from_db()
    assert booked.day == date(2026, 3, 5)


def test_a_change_of_the_place_alone_asks_nothing_even_in_a_full_week(cast, sign_in, booked):
    cast.team.weekly_free_minutes = 30
    cast.team.save()
    post = editing(booked, place="the old mill")
    assert (
        sign_in(cast.member).post(at(cast.team, "session-edit", booked.pk), post).status_code
        == 302
    )


def test_a_session_of_which_only_the_day_is_known_may_stay_so(cast, sign_in, booked):
    booked.crew.all().delete()
    DiscoverySession.objects.update(starts_at=None, state="held")
    booked.refresh_from_db()
    post = editing(booked, attendee_count="3")
    page = at(cast.team, "session-edit", booked.pk)
    assert sign_in(cast.member).post(page, post).status_code == 302
    booked.refresh_from_db()
    assert (booked.starts_at, booked.day, booked.attendee_count) == (None, date(2026, 3, 3), 3)


def test_a_note_taker_without_a_facilitator_is_refused_and_not_dropped(cast, sign_in, booked):
    booked.crew.all().delete()
    post = editing(booked, note_taker=cast.member.pk)
    answer = sign_in(cast.member).post(at(cast.team, "session-edit", booked.pk), post)
    assert answer.status_code == 422
    assert "facilitator" in answer.context["form"].errors


def test_who_left_since_or_only_reads_by_now_stays_in_the_record(cast, sign_in, booked):
    cast.owner.role = Role.READER
    cast.owner.save()
    cast.member.left_on = date(2026, 3, 3)
    cast.member.save()
    third = join(team=cast.team, email="third@harbour.example")
    page = at(cast.team, "session-edit", booked.pk)
    browser = sign_in(third)
    assert browser.post(page, editing(booked, effort_during="60")).status_code == 302
    booked.refresh_from_db()
    assert booked.effort == 60
    assert {place.member for place in booked.crew.all()} == {cast.owner, cast.member}

    # but who is not in the crew can't be put there any more
    booked.crew.filter(member=cast.member).delete()
    answer = browser.post(page, editing(booked, note_taker=cast.member.pk))
    assert answer.status_code == 422
    assert "note_taker" in answer.context["form"].errors
