"""The list of a person's teams, and switching between them."""

from django.urls import reverse

from pipeline.teams.models import Member, Role


def test_with_one_team_a_person_goes_straight_there(cast, sign_in):
    answer = sign_in(cast.reader).get(reverse("teams"))
    assert answer.url == reverse("start", args=["harbour"])


def test_asked_for_all_the_list_is_shown_even_of_one(cast, sign_in):
    page = sign_in(cast.reader).get(reverse("teams") + "?all")
    assert [m.team for m in page.context["memberships"]] == [cast.team]


def test_with_two_teams_a_person_chooses(cast, sign_in):
    Member.objects.create(team=cast.other_team, user=cast.member.user, role=Role.READER)
    page = sign_in(cast.member).get(reverse("teams")).content.decode()
    assert reverse("start", args=["harbour"]) in page
    assert reverse("start", args=["quarry"]) in page


def test_a_team_that_was_left_is_not_listed_and_not_entered(cast, sign_in):
    sign_in(cast.owner).post(reverse("member-remove", args=["harbour", cast.member.pk]))
    browser = sign_in(cast.member)
    assert "no team yet" in browser.get(reverse("teams")).content.decode()
    assert browser.get(reverse("team", args=["harbour"])).status_code == 404


def test_a_person_without_a_team_is_told_so(cast, sign_in):
    page = sign_in(cast.stranger).get(reverse("teams")).content.decode()
    assert "You belong to no team yet" in page
