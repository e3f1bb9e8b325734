"""Each member says which letters of the app to get; a reader has a part in the review alone."""

import pytest
from django.urls import reverse

from pipeline.teams.models import LETTERS, Member


@pytest.fixture
def url(cast):
    return reverse("wanted", args=["harbour"])


def boxes(browser) -> dict[str, bool]:
    """Return the boxes that the team's page shows, and whether each is ticked."""
    field = browser.get(reverse("team", args=["harbour"])).context["wanted"]["letters"]
    return {name: name in field.value() for name, _ in field.field.choices}


def test_a_member_gets_every_letter_until_switching_some_off_and_twice_is_once(cast, sign_in, url):
    browser = sign_in(cast.member)
    assert boxes(browser) == dict.fromkeys(LETTERS, True)
    for _ in range(2):
        answer = browser.post(url, {"letters": ["review", "notes"]}, follow=True)
        assert "You get: review, notes." in answer.text
    cast.member.refresh_from_db()
    assert cast.member.gets == ["review", "notes"]
    assert boxes(browser)["digest"] is False
    cast.owner.refresh_from_db()
    assert cast.owner.gets == list(LETTERS)


def test_whoever_ticks_nothing_gets_nothing_unasked(cast, sign_in, url):
    assert "no letters but those you ask for" in sign_in(cast.member).post(url, follow=True).text
    assert Member.objects.get(pk=cast.member.pk).gets == []


def test_a_reader_chooses_about_the_review_alone(cast, sign_in, url):
    browser = sign_in(cast.reader)
    assert boxes(browser) == {"review": True}
    browser.post(url, {})
    cast.reader.refresh_from_db()
    assert cast.reader.gets == []
    # what a reader has no part in stays as it was, for the day on which they write again
    assert cast.reader.wants_digest


def test_a_letter_that_is_not_listed_changes_nothing(cast, sign_in, url):
    for who, letter in ((cast.member, "chain letter"), (cast.reader, "digest")):
        answer = sign_in(who).post(url, {"letters": letter}, follow=True)
        assert "Choose among the letters that are listed. Nothing was changed." in answer.text
        assert Member.objects.get(pk=who.pk).gets == who.gets


def test_a_post_changes_nothing_else_of_the_member(cast, sign_in, url):
    sign_in(cast.reader).post(url, {"role": "owner", "user": cast.owner.user.pk, "team": 99})
    stored = Member.objects.get(pk=cast.reader.pk)
    assert (stored.role, stored.user, stored.team) == ("reader", cast.reader.user, cast.team)


def test_those_who_get_a_letter_want_it_have_a_part_in_it_and_can_read_it(cast):
    def who(letter):
        return {member.user.name.split()[0] for member in Member.objects.who_get(letter)}

    assert who("review") == {"Olive", "Mateus", "Rea", "Quin"}
    assert who("digest") == who("reminders") == who("notes") == {"Olive", "Mateus", "Quin"}
    Member.objects.filter(pk=cast.member.pk).update(wants_digest=False)
    Member.objects.filter(pk=cast.other_owner.pk).update(left_on="2026-03-01")
    cast.owner.user.is_active = False
    cast.owner.user.save()
    assert who("digest") == set()
    assert who("review") == {"Mateus", "Rea"}


def test_the_teams_page_says_who_gets_what(cast, sign_in, url):
    sign_in(cast.member).post(url, {"letters": "digest"})
    page = sign_in(cast.owner).get(reverse("team", args=["harbour"])).text
    assert "<td>digest</td>" in page
    assert "<td>review</td>" in page
    assert "<td>digest, review, reminders, notes</td>" in page
