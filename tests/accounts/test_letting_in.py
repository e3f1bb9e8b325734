"""Letting people into a team: new people by a link, people with an account once they agree."""

import uuid

import pytest
from django.test import Client
from django.urls import reverse

from pipeline.accounts.joining import Invitation, invitation_link, invitation_token
from pipeline.teams.models import Member, Role, User


def asked(**changes: object) -> dict[str, object]:
    return {
        "submission": uuid.uuid4(),
        "email": "nadia@harbour.example",
        "name": "Nadia Fell",
        "role": "member",
        **changes,
    }


def test_a_new_person_gets_an_account_and_the_owner_a_link(cast, sign_in, settings):
    answer = sign_in(cast.owner).post(
        reverse("member-new", args=["harbour"]), asked(), follow=True
    )
    nadia = Member.objects.get(user__email="nadia@harbour.example")
    assert (nadia.team, nadia.role, nadia.user.name) == (cast.team, Role.MEMBER, "Nadia Fell")
    link = answer.context["link"]
    assert link in answer.content.decode()
    assert Client().get(link.removeprefix(settings.BASE_URL)).status_code == 200


def test_the_form_posted_twice_lets_in_one_person(cast, sign_in):
    browser, form = sign_in(cast.owner), asked()
    first = browser.post(reverse("member-new", args=["harbour"]), form)
    second = browser.post(reverse("member-new", args=["harbour"]), form)
    assert first.url == second.url
    assert User.objects.filter(email="nadia@harbour.example").count() == 1


def test_somebody_who_is_in_the_team_is_refused_at_the_field(cast, sign_in):
    answer = sign_in(cast.owner).post(
        reverse("member-new", args=["harbour"]), asked(email="REA@harbour.example")
    )
    assert answer.status_code == 422
    assert answer.context["form"].errors["email"] == ["Rea Lindqvist is in the team already."]


def test_nobody_gets_a_link_to_sign_in_as_a_person_of_another_team(cast, sign_in, settings):
    """An owner must not come by another team's rows through one of its people."""
    browser = sign_in(cast.owner)
    answer = browser.post(
        reverse("member-new", args=["harbour"]), asked(email="quin@quarry.example"), follow=True
    )
    quin = cast.other_owner.user
    assert not Member.objects.filter(team=cast.team, user=quin).exists()
    page = answer.content.decode()
    assert "/link/" not in page
    join = answer.context["link"].removeprefix(settings.BASE_URL)
    # In nobody else's hands does the link do anything.
    for other in (cast.owner, cast.stranger):
        assert sign_in(other).post(join).status_code == 410
    assert Client().post(join).url.startswith(reverse("sign-in"))
    assert not Member.objects.filter(team=cast.team, user=quin).exists()
    # Opening it is not yet to agree.
    assert sign_in(quin).get(join).status_code == 200
    assert not Member.objects.filter(team=cast.team, user=quin).exists()
    for _ in range(2):
        assert sign_in(quin).post(join).url == reverse("start", args=["harbour"])
    assert Member.objects.get(team=cast.team, user=quin).role == Role.MEMBER


def test_no_link_is_shown_once_a_person_has_a_password_or_a_second_team(cast, sign_in):
    browser = sign_in(cast.owner)
    url = reverse("member-link", args=["harbour", cast.member.pk])
    assert browser.get(url).status_code == 200
    second = Member.objects.create(team=cast.other_team, user=cast.member.user, role=Role.READER)
    assert browser.get(url).status_code == 404
    second.delete()
    cast.member.user.set_password("seven quiet harbours")
    cast.member.user.save()
    assert browser.get(url).status_code == 404


def test_an_invitation_is_over_once_the_person_was_removed(cast, sign_in, settings):
    quin = cast.other_owner.user
    join = invitation_link(invitation_token(Invitation(quin, cast.team, Role.MEMBER)))
    join = join.removeprefix(settings.BASE_URL)
    sign_in(quin).post(join)
    member = Member.objects.get(team=cast.team, user=quin)
    sign_in(cast.owner).post(reverse("member-remove", args=["harbour", member.pk]))
    assert sign_in(quin).post(join).status_code == 410
    member.refresh_from_db()
    assert member.left_on is not None


@pytest.mark.parametrize("token", ["x", "a:b:c", "e30:1aaaaa:bbbb"])
def test_a_made_up_invitation_is_over_and_no_error(cast, sign_in, token):
    assert sign_in(cast.stranger).get(reverse("join", args=[token])).status_code == 410
