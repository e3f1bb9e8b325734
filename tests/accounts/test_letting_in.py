"""Asking people into a team: nobody is in it before they have said yes themselves."""

import re
import uuid
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from pipeline.accounts.inviting import LASTS, ask, link_of, send_again, token_of
from pipeline.accounts.models import Invitation
from pipeline.clock import moment
from pipeline.mail.models import Letter
from pipeline.teams.models import Member, Role, User
from pipeline.teams.refused import Refused
from tests.conftest import NOW

NADIA = "nadia@harbour.example"
NEW = {"new_password1": "seven quiet harbours", "new_password2": "seven quiet harbours"}


def asked(**changes: object) -> dict[str, object]:
    return {
        "submission": uuid.uuid4(),
        "email": NADIA,
        "name": "Nadia Fell",
        "role": "member",
        **changes,
    }


def invitation(cast, email: str = NADIA, role: str = Role.MEMBER) -> Invitation:
    return ask(owner=cast.owner, email=email, name="", role=role, now=NOW)


def path(of: Invitation) -> str:
    return reverse("join", args=[token_of(of)])


def test_an_owner_asks_by_letter_and_never_sees_the_link(cast, sign_in, by_mail):
    browser = sign_in(cast.owner)
    page = browser.post(reverse("member-new", args=["harbour"]), asked(), follow=True).text
    letter = Letter.objects.get(to=NADIA)
    link = link_of(Invitation.objects.get())
    assert link in letter.text
    assert letter.private
    assert letter.by == cast.owner
    assert "/join/" not in page
    assert "The letter waits to be sent." in page
    assert not User.objects.filter(email=NADIA).exists()


def test_without_mail_the_owner_hands_the_link_over(cast, sign_in):
    browser = sign_in(cast.owner)
    page = browser.post(reverse("member-new", args=["harbour"]), asked(), follow=True).text
    assert link_of(Invitation.objects.get()) in page
    assert not Letter.objects.exists()


def test_a_new_person_says_yes_with_a_name_and_a_password_once(cast, client):
    url = path(invitation(cast, role=Role.READER))
    assert client.get(url).status_code == 200
    assert not User.objects.filter(email=NADIA).exists()
    answer = client.post(url, {"name": "Nadia Fell", **NEW})
    assert answer.url == reverse("start", args=["harbour"])
    assert client.get(answer.url).status_code == 200
    nadia = Member.objects.get(user__email=NADIA)
    assert (nadia.team, nadia.role, nadia.user.name) == (cast.team, Role.READER, "Nadia Fell")
    assert nadia.user.check_password(NEW["new_password1"])
    assert Client().get(url).status_code == 410


def test_a_weak_password_is_refused_in_words_and_nothing_typed_is_lost(cast, client):
    url = path(invitation(cast))
    weak = {"name": "Nadia Fell", "new_password1": "short", "new_password2": "short"}
    page = client.post(url, weak)
    assert page.status_code == 422
    assert "at least 10 characters" in page.text
    assert 'value="Nadia Fell"' in page.text
    assert not User.objects.filter(email=NADIA).exists()


def test_the_same_is_said_to_the_owner_whether_or_not_there_is_an_account(cast, sign_in, by_mail):
    browser, pages = sign_in(cast.owner), set()
    for email in (NADIA, "quin@quarry.example"):
        url = reverse("member-new", args=["harbour"])
        page = browser.post(url, asked(email=email, name=""), follow=True).text
        bare = re.sub(r'value="\w{64}"|invitations/\d+', "…", page.split("<main")[1])
        assert email in bare
        pages.add(bare.replace(email, "ADDRESS"))
        Invitation.objects.all().delete()
    assert len(pages) == 1


def test_who_has_an_account_joins_only_signed_in_as_themselves(cast, sign_in):
    """An owner must not come by another team's rows through one of its people."""
    quin = cast.other_owner.user
    url = path(invitation(cast, quin.email))
    for other in (cast.owner, cast.stranger):
        assert sign_in(other).post(url, NEW).status_code == 403
    assert Client().post(url, NEW).url.startswith(reverse("sign-in"))
    # Opening it is not yet to agree.
    assert sign_in(quin).get(url).status_code == 200
    assert not Member.objects.filter(team=cast.team, user=quin).exists()
    before = quin.password
    assert sign_in(quin).post(url, NEW).url == reverse("start", args=["harbour"])
    quin.refresh_from_db()
    assert quin.password == before
    assert Member.objects.get(team=cast.team, user=quin).role == Role.MEMBER
    assert sign_in(quin).post(url).status_code == 410


def test_the_link_is_over_after_three_days(cast, client):
    url = path(invitation(cast))
    with moment.stopped(NOW + LASTS - timedelta(seconds=1)):
        assert client.get(url).status_code == 200
    with moment.stopped(NOW + LASTS):
        assert client.get(url).status_code == 410
        assert client.post(url, NEW).status_code == 410


def test_sent_again_the_link_before_is_over(cast, sign_in, by_mail):
    first = invitation(cast)
    old = path(first)
    sign_in(cast.owner).post(reverse("invitation-again", args=["harbour", first.pk]))
    assert Client().get(old).status_code == 410
    first.refresh_from_db()
    assert Client().get(path(first)).status_code == 200
    assert Letter.objects.filter(to=NADIA).count() == 2


def test_withdrawn_the_link_is_over_and_cannot_be_sent_again(cast, sign_in):
    first = invitation(cast)
    url = reverse("invitation-withdraw", args=["harbour", first.pk])
    for said in ("is asked no more", "was over already"):
        assert said in sign_in(cast.owner).post(url, follow=True).text
    assert Client().get(path(first)).status_code == 410
    with pytest.raises(Refused):
        send_again(invitation=first, now=NOW)


def test_an_invitation_that_is_over_is_made_anew_and_an_open_one_not(cast, sign_in):
    first = invitation(cast)
    url = reverse("member-new", args=["harbour"])
    again = sign_in(cast.owner).post(url, asked(email="Nadia@Harbour.example"))
    assert again.status_code == 422
    assert "was asked already" in again.text
    with moment.stopped(NOW + LASTS):
        second = ask(owner=cast.owner, email=NADIA, name="", role="member", now=moment.now())
    assert list(Invitation.objects.open()) == [second]
    first.refresh_from_db()
    assert first.withdrawn_at is not None


def test_nobody_is_flooded_with_letters(cast, sign_in, by_mail):
    first, browser = invitation(cast), sign_in(cast.owner)
    url = reverse("invitation-again", args=["harbour", first.pk])
    for _ in range(5):
        page = browser.post(url, follow=True).text
    assert "Too many attempts. Wait 30 seconds, then try again." in page
    assert Letter.objects.count() == 5
    # what was sent last holds
    first.refresh_from_db()
    assert Client().get(path(first)).status_code == 200
    with moment.stopped(NOW + timedelta(seconds=30)):
        assert "on its way" in browser.post(url, follow=True).text


def test_the_form_posted_twice_asks_once(cast, sign_in, by_mail):
    browser, form = sign_in(cast.owner), asked()
    for _ in range(2):
        assert browser.post(reverse("member-new", args=["harbour"]), form).status_code == 302
    assert Invitation.objects.count() == Letter.objects.count() == 1


def test_somebody_who_is_in_the_team_is_refused_at_the_field(cast, sign_in):
    url = reverse("member-new", args=["harbour"])
    answer = sign_in(cast.owner).post(url, asked(email="REA@harbour.example"))
    assert answer.status_code == 422
    assert answer.context["form"].errors["email"] == ["Rea Lindqvist is in the team already."]


def test_nobody_comes_back_by_the_link_with_which_they_once_came(cast, sign_in):
    quin = cast.other_owner.user
    url = path(invitation(cast, quin.email))
    sign_in(quin).post(url)
    member = Member.objects.get(team=cast.team, user=quin)
    sign_in(cast.owner).post(reverse("member-remove", args=["harbour", member.pk]))
    assert sign_in(quin).post(url).status_code == 410
    member.refresh_from_db()
    assert member.left_on is not None


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


@pytest.mark.parametrize("token", ["x", "a:b:c", "e30:1aaaaa", "é", "x" * 3000])
def test_a_made_up_invitation_is_over_and_no_error(cast, sign_in, token):
    assert sign_in(cast.stranger).get(reverse("join", args=[token])).status_code == 410
