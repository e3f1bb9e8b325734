"""A team may ask a second factor of everybody: who has none is led to it before anything else."""

import pytest
from django.urls import reverse

from pipeline.teams.models import Member, Role
from tests.accounts.people import PASSWORD
from tests.accounts.people import with_second_factor as armed


@pytest.fixture
def asking(cast):
    armed(cast.owner.user)
    cast.team.requires_second_factor = True
    cast.team.save()
    return cast


def test_an_owner_without_one_may_not_ask_it_of_others(cast, sign_in):
    url = reverse("access-factor", args=["harbour"])
    page = sign_in(cast.owner).post(url, {"required": "yes"}, follow=True).text
    assert "Set up your own second factor first" in page
    cast.team.refresh_from_db()
    assert not cast.team.requires_second_factor


def test_an_owner_asks_it_and_takes_that_back_and_twice_is_once(cast, sign_in):
    armed(cast.owner.user)
    browser, url = sign_in(cast.owner), reverse("access-factor", args=["harbour"])
    for word, said in (("yes", "now"), ("yes", "already"), ("no", "now")):
        page = browser.post(url, {"required": word}, follow=True)
        assert f"{said}." in page.text
        cast.team.refresh_from_db()
        assert cast.team.requires_second_factor == (word == "yes")


def test_a_form_of_settings_opened_before_does_not_take_it_back(cast, sign_in):
    armed(cast.owner.user)
    before = cast.team.version
    url = reverse("access-factor", args=["harbour"])
    sign_in(cast.owner).post(url, {"required": "yes"})
    cast.team.refresh_from_db()
    assert cast.team.version == before + 1


def test_who_has_none_is_led_to_set_it_up_and_told_why(asking, sign_in):
    browser = sign_in(asking.member)
    page = browser.get(reverse("leads", args=["harbour"]), follow=True)
    assert page.redirect_chain == [(reverse("second-factor"), 302)]
    assert "Harbour Studio asks its members for a second factor" in page.text
    pressed = browser.post(reverse("lead-new", args=["harbour"]), {"organisation": "Tarn"})
    assert pressed.url == reverse("second-factor")
    by_htmx = browser.get(reverse("leads", args=["harbour"]), headers={"HX-Request": "true"})
    assert by_htmx["HX-Redirect"] == reverse("second-factor")


def test_who_has_one_and_who_is_in_another_team_notices_nothing(asking, sign_in):
    assert sign_in(asking.owner).get(reverse("leads", args=["harbour"])).status_code == 200
    Member.objects.create(team=asking.other_team, user=asking.member.user, role=Role.READER)
    assert sign_in(asking.member).get(reverse("leads", args=["quarry"])).status_code == 200


def test_a_stranger_learns_nothing_of_it(asking, sign_in):
    assert sign_in(asking.stranger).get(reverse("leads", args=["harbour"])).status_code == 404


def test_who_would_rather_not_may_leave(asking, sign_in):
    browser = sign_in(asking.member)
    assert browser.get(reverse("leave", args=["harbour"])).status_code == 200
    browser.post(reverse("leave", args=["harbour"]))
    asking.member.refresh_from_db()
    assert asking.member.left_on is not None


def test_it_is_not_taken_off_while_a_team_asks_for_it(asking, sign_in):
    answer = sign_in(asking.owner).post(reverse("second-factor-off"), {"password": PASSWORD})
    assert answer.status_code == 422
    assert "Harbour Studio asks its members" in answer.text
    asking.owner.user.refresh_from_db()
    assert asking.owner.user.second_factor
