"""The team's plan, told in words."""

import pytest
from django.urls import reverse

from pipeline.followups.plans import ensure_plan, when
from tests.followups.planning import step
from tests.followups.queries import tables


@pytest.mark.parametrize(
    ("count", "unit", "times", "words"),
    [
        (2, "working days", 1, "2 working days later"),
        (1, "working days", 1, "1 working day later"),
        (3, "months", 8, "every 3 months, at most 8 times"),
        (1, "months", 4, "every month, at most 4 times"),
        (6, "weeks", 1, "6 weeks later"),
        (0, "weeks", 1, "the same day"),
        (2, "weeks before funding", 1, "2 weeks before money is expected"),
        (1, "weeks before funding", 3, "every week before money is expected, at most 3 times"),
        (0, "weeks before funding", 1, "when money is expected"),
        (3, "weeks after expected", 1, "3 weeks after money was expected"),
        (2, "weeks after expected", 4, "every 2 weeks after money was expected, at most 4 times"),
        (
            0,
            "weeks after expected",
            1,
            "at the end of the day or month for which money was expected",
        ),
    ],
)
def test_an_offset_is_told_in_words(count, unit, times, words):
    assert when(step("no budget yet", count, unit, times=times)) == words


@pytest.mark.django_db
def test_the_plan_is_read_in_the_order_in_which_a_lead_meets_its_facts(cast, sign_in):
    ensure_plan(cast.team)
    client = sign_in(cast.reader)
    url = reverse("plan", args=[cast.team.slug])
    page = client.get(url).text
    places = [
        page.index(words)
        for words in ("2 working days later", "10 working days later", "every 3 months", "Call:")
    ]
    assert places == sorted(places)
    assert tables(lambda: client.get(url)) == [
        "django_session",
        "teams_user",
        "teams_member",
        "followups_planedition",
        "followups_planstep",
        "followups_planedition",
    ]


@pytest.mark.django_db
def test_a_team_without_a_plan_is_told_so(cast, sign_in):
    page = sign_in(cast.member).get(reverse("plan", args=[cast.team.slug])).text
    assert "This team has no plan" in page
