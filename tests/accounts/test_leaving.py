"""Leaving a team, and handing it over: there is always an owner."""

import pytest
from django.urls import reverse

from pipeline.teams import membership
from pipeline.teams.models import Member, Role
from pipeline.teams.refused import Refused
from tests.conftest import TODAY


@pytest.mark.parametrize("who", ["reader", "member"])
def test_whoever_is_no_owner_leaves_by_themselves(cast, sign_in, who):
    member = getattr(cast, who)
    browser, url = sign_in(member), reverse("leave", args=["harbour"])
    assert "What you did stays on record" in browser.get(url).text
    member.refresh_from_db()
    assert member.left_on is None
    assert browser.post(url).url == reverse("teams")
    member.refresh_from_db()
    assert member.left_on == TODAY
    assert browser.post(url).status_code == 404


def test_the_last_owner_is_told_what_to_do_first(cast, sign_in):
    browser, url = sign_in(cast.owner), reverse("leave", args=["harbour"])
    page = browser.post(url, follow=True).text
    assert "Olive Brandt is the last owner. Make somebody else an owner first." in page
    assert reverse("hand-over", args=["harbour"]) in page
    cast.owner.refresh_from_db()
    assert cast.owner.left_on is None


def hand_over(browser, to: Member, role: str):
    return browser.post(reverse("hand-over", args=["harbour"]), {"to": to.pk, "role": role})


@pytest.mark.parametrize("role", Role.values)
def test_an_owner_hands_the_team_over_and_stays_as_they_say(cast, sign_in, role):
    assert hand_over(sign_in(cast.owner), cast.reader, role).status_code == 302
    for member in (cast.owner, cast.reader):
        member.refresh_from_db()
    assert (cast.owner.role, cast.reader.role) == (role, Role.OWNER)
    assert membership.remove(member=cast.owner, today=TODAY)


def test_nobody_outside_the_team_is_a_choice(cast, sign_in):
    left = cast.member
    membership.remove(member=left, today=TODAY)
    for whom in (cast.other_owner, left, cast.owner):
        assert hand_over(sign_in(cast.owner), whom, Role.MEMBER).status_code == 422
    cast.owner.refresh_from_db()
    assert cast.owner.role == Role.OWNER


def test_who_leaves_meanwhile_is_not_made_an_owner(cast):
    membership.remove(member=cast.member, today=TODAY)
    with pytest.raises(Refused, match="has left"):
        membership.hand_over(owner=cast.owner, to=cast.member, role=Role.READER)
    cast.owner.refresh_from_db()
    assert cast.owner.role == Role.OWNER
