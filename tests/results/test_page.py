"""The first page of results: who may see it, what it says, and the day it is asked about."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from pipeline.results import words
from tests.factories import SourceFactory

from .pages import text_of
from .rows import INDEX, add_lead

URL = "/t/harbour/results/"


@pytest.fixture
def page(cast, sign_in):
    """Ask for the page as a reader."""

    def asked(**query):
        return sign_in(cast.reader).get(URL, query)

    return asked


def test_a_stranger_and_another_teams_owner_do_not_find_it(cast, sign_in):
    for who in (cast.stranger, cast.other_owner):
        for query in ({}, {"as": "json"}, {"as": "team.csv"}):
            assert sign_in(who).get(URL, query).status_code == 404


def test_a_reader_reads_it(page):
    assert page().status_code == 200


def test_it_takes_no_post(cast, sign_in):
    assert sign_in(cast.member).post(URL).status_code == 405
    assert sign_in(cast.reader).post(URL).status_code == 403


def test_before_the_first_held_session_it_says_what_to_do_next(page):
    told = text_of(page())
    assert "No session had been held by Tue 3 Mar 2026" in told
    assert "Download these figures as JSON" in told


def test_a_rate_has_its_count_its_interval_and_at_least_so_far(cast, page):
    for number in range(8):
        add_lead(cast.team, *([] if number else [("engaged", INDEX)]))
    told = text_of(page())
    assert "Of 8 leads with a held session 1 engaged: at least 12%, so far" in told
    assert "(95% interval 2% to 47%)" in told


def test_the_rule_stands_under_the_figure(cast, page):
    add_lead(cast.team)
    told = text_of(page())
    for rule in (words.WHO_COUNTS, words.WHAT_DECIDES, words.CONVERSION, words.WITHIN):
        assert told.count(rule) == 1


def test_too_little_data_says_so_in_words(cast, page):
    """One lead, whose session was held 171 days before."""
    add_lead(cast.team)
    told = text_of(page(as_of="2025-06-30"))
    assert "at least 0%, so far (95% interval 0% to 79%: too few, can't tell yet)" in told
    assert "How many engage within so many days of the session: can't tell yet." in told
    assert "90 days 0% 0% to 79%: too few, can't tell yet 1" in told
    assert "180 days can't tell yet can't tell yet 0" in told


def test_leads_that_are_left_out_are_told(cast, page):
    add_lead(cast.team, ("declined", INDEX - timedelta(days=1)))
    told = text_of(page())
    assert "1 lead left out, having decided before the first held session." in told
    assert "No lead counts: can't tell yet." in told


def test_it_shows_any_day_and_keeps_the_day_in_the_field(cast, page):
    add_lead(cast.team, ("engaged", INDEX + timedelta(days=9)))
    response = page(as_of="2025-01-15")
    assert "1 lead with a held session 0 engaged" in text_of(response)
    assert 'value="2025-01-15"' in response.content.decode()
    assert "1 lead with a held session 1 engaged" in text_of(page(as_of=""))


def test_a_day_ahead_says_what_it_takes_for_granted(cast, page):
    add_lead(cast.team)
    assert "This day is still ahead" in text_of(page(as_of="2026-03-04"))
    assert "This day is still ahead" not in text_of(page(as_of="2026-03-03"))


@pytest.mark.parametrize("day", ["2026-02-30", "tomorrow", "3/3/2026", "\x00", "0000-01-01"])
@pytest.mark.parametrize("kind", [{}, {"as": "json"}])
def test_a_day_that_is_none_is_named_with_the_mend_and_kept(page, day, kind):
    response = page(as_of=day, **kind)
    assert response.status_code == 422
    assert "“As of” is no day. Write it as 2026-03-31." in text_of(response)
    assert f'value="{day}"' in response.content.decode()


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_ends_of_the_calendar_are_days(cast, page, day):
    add_lead(cast.team, ("no budget yet", INDEX))
    assert page(as_of=day).status_code == 200


def test_the_file_is_what_the_command_prints(cast, page):
    add_lead(cast.team, ("engaged", INDEX), source=SourceFactory(team=cast.team))
    response = page(**{"as": "json", "as_of": "2025-12-31"})
    out = StringIO()
    call_command(
        "results", "--team", "harbour", "--as-of", "2025-12-31", "--format", "json", stdout=out
    )
    assert response.headers["Content-Type"] == "application/json"
    assert "results-harbour-2025-12-31.json" in response.headers["Content-Disposition"]
    found, printed = json.loads(response.content), json.loads(out.getvalue())
    # Whoever may run commands may read every row; on the page the crew is for owners.
    del printed["crew"]
    assert list(found) == list(printed)
    assert found == printed
    assert found["overall"]["engaged"] == 1
