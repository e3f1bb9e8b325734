"""A form that is posted twice does its work once."""

import uuid

import pytest
from django.db import IntegrityError

from pipeline.leads.models import Source
from pipeline.teams.once import do_once
from tests.conftest import NOW
from tests.factories import SourceFactory


def test_the_second_post_leads_to_the_first_result_and_does_nothing(cast):
    key = uuid.uuid4()

    def work() -> str:
        return f"/made/{SourceFactory(team=cast.team).pk}"

    first = do_once(team=cast.team, key=key, now=NOW, work=work)
    second = do_once(team=cast.team, key=key, now=NOW, work=work)

    assert first[1] is True
    assert second == (first[0], False)
    assert Source.objects.for_team(cast.team).count() == 1


def test_the_same_key_in_another_team_is_another_form(cast):
    key = uuid.uuid4()
    for team in (cast.team, cast.other_team):
        assert do_once(team=team, key=key, now=NOW, work=lambda: "/made") == ("/made", True)


def test_work_that_fails_leaves_no_receipt_so_that_a_mended_form_may_be_posted(cast):
    key = uuid.uuid4()
    SourceFactory(team=cast.team, name="fair")

    with pytest.raises(IntegrityError):
        do_once(
            team=cast.team,
            key=key,
            now=NOW,
            work=lambda: str(SourceFactory(team=cast.team, name="fair")),
        )

    assert do_once(team=cast.team, key=key, now=NOW, work=lambda: "/made") == ("/made", True)
