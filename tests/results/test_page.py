"""The results page: who may see it, what it says, and what it asks of the database."""

import json
import re
from datetime import timedelta
from html import unescape
from io import StringIO
from xml.etree import ElementTree

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pipeline.results import words
from tests.factories import FormatFactory, SourceFactory

from .rows import INDEX, add_lead

URL = "/t/harbour/results/"


def text_of(response) -> str:
    """What a reader sees, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


@pytest.fixture
def page(cast, sign_in):
    """Ask for the page as a reader."""

    def asked(**query):
        return sign_in(cast.reader).get(URL, query)

    return asked


def test_a_stranger_and_another_teams_owner_do_not_find_it(cast, sign_in):
    for who in (cast.stranger, cast.other_owner):
        for query in ({}, {"as": "json"}):
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
    hour = FormatFactory(team=cast.team, name="hour")
    for number in range(8):
        add_lead(cast.team, *([] if number else [("engaged", INDEX)]), format=hour)
    told = text_of(page())
    assert "Of 8 leads with a held session 1 engaged: at least 12%, so far" in told
    assert "(95% interval 2% to 47%)" in told
    assert "hour at least 12%, so far 1 of 8 engaged 2% to 47% 7 0 0" in told
    assert "source not known at least 12%, so far 1 of 8 engaged 2% to 47% 7 0 0" in told


def test_the_rule_stands_under_every_figure(cast, page):
    add_lead(cast.team, ("no budget yet", INDEX))
    told = text_of(page())
    for rule in (words.WHO_COUNTS, words.WHAT_DECIDES, words.DELAYED_RETURN, words.WHEN_TOLD):
        assert told.count(rule) == 1
    assert told.count(words.CONVERSION) == 3


def test_too_little_data_says_so_in_words(cast, page):
    add_lead(cast.team, ("no budget yet", INDEX))
    told = text_of(page(as_of="2025-06-30"))
    assert "0% to 79%: too few, can't tell yet" in told
    assert "90 days 0% nobody so far: no interval 1" in told
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


def drawing(response) -> ElementTree.Element:
    return ElementTree.fromstring(re.search(r"<svg.*?</svg>", response.content.decode(), re.S)[0])


def test_formats_are_drawn_side_by_side_with_their_intervals(cast, page):
    """0 of 1 and 1 of 1, on a scale that runs from 14 to 346."""
    for name, decided in (("<b>half</b>", []), ("hour", [("engaged", INDEX)])):
        add_lead(cast.team, *decided, format=FormatFactory(team=cast.team, name=name))
    svg = drawing(page())
    space = {"s": "http://www.w3.org/2000/svg"}
    assert svg.find("s:title", space).text
    told = svg.find("s:desc", space).text
    assert (
        "<b>half</b>: at least 0%, so far (0 of 1 engaged), 0% to 79%: too few, can't tell yet."
        in told
    )
    dots = [dot.get("cx") for dot in svg.iterfind(".//s:circle", space)]
    assert dots == ["14.0", "346.0"]
    bars = [line for line in svg.iterfind(".//s:line", space) if line.get("stroke-width")]
    # Wilson for 0 of 1 ends at 0.7934507 (R's prop.test without correction).
    assert [(bar.get("x1"), bar.get("x2")) for bar in bars] == [
        ("14.0", f"{14 + 332 * 0.7934507:.1f}"),
        (f"{346 - 332 * 0.7934507:.1f}", "346.0"),
    ]
    colours = {node.get("fill") for node in svg.iter()} | {
        node.get("stroke") for node in svg.iter()
    }
    assert colours <= {"currentColor", "none", None}


def test_any_number_of_leads_takes_the_same_queries_which_all_read(cast, sign_in):
    client = sign_in(cast.reader)

    def asked() -> list[str]:
        """What each query reads in the end; a figure's names a relation of the cohort."""
        with CaptureQueriesContext(connection) as caught:
            assert client.get(URL).status_code == 200
        assert all(query["sql"].startswith(("SELECT ", "WITH ")) for query in caught)
        return [re.findall(r'FROM "?(\w+)"?', query["sql"])[-1] for query in caught]

    add_lead(cast.team, ("no budget yet", INDEX))
    one = asked()
    for _ in range(6):
        add_lead(cast.team, ("no budget yet", INDEX), source=SourceFactory(team=cast.team))
    signed_in, user, member, *figures = asked()
    assert [signed_in, user, member] == ["django_session", "teams_user", "teams_member"]
    # Conversion by format, by source, by attendees; waits; since funding; fees; the returns.
    assert sorted(figures) == ["counted", "entered", "entered", "entered", "wait", "wait", "waits"]
    assert one == [signed_in, user, member, *figures]
