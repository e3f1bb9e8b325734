"""The pages of results: what each says, hands out, narrows, and asks of the database."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from decimal import Decimal
from io import StringIO
from xml.etree import ElementTree

import pytest

from pipeline.leads.models import Decision
from pipeline.results.exhibits.returns import PAGE
from pipeline.results.sections import SECTIONS
from sessions.models import CrewPlace
from tests.factories import FormatFactory, SourceFactory

from .pages import SPACE, drawings, text_of
from .rows import INDEX, add_lead

PATHS = {one.address: one.address.removeprefix("results").lstrip("-") for one in SECTIONS}
TWENTY = 20


def url(address: str) -> str:
    path = PATHS[address]
    return f"/t/harbour/results/{path}/" if path else "/t/harbour/results/"


@pytest.fixture
def page(cast, sign_in):
    """Ask for a section as an owner, who may see all of them."""
    client = sign_in(cast.owner)

    def asked(address, *, headers=None, **query):
        return client.get(url(address), query, headers=headers)

    return asked


@pytest.fixture
def history(cast):
    """Two formats with twenty leads each, one engaging twice as often; half the rest wait."""
    for name, every in (("half", 4), ("hour", 2)):
        fmt = FormatFactory(team=cast.team, name=name)
        source = SourceFactory(team=cast.team, name=f"from {name}")
        for number in range(TWENTY):
            told = (
                [("engaged", INDEX + timedelta(days=20 + number))] if number % every == 0 else []
            )
            waited = [("no budget yet", INDEX + timedelta(days=9))] if number % 4 < 2 else []
            add_lead(cast.team, *waited, *told, format=fmt, source=source)
    return cast.team


@pytest.mark.parametrize("address", PATHS)
def test_a_page_without_leads_says_what_to_do_next(cast, page, address):
    told = text_of(page(address))
    assert "by Tue 3 Mar 2026" in told
    assert "It begins when" in told or "Results begin with the first" in told


@pytest.mark.parametrize("address", PATHS)
def test_each_figure_stands_with_table_rule_and_files(history, page, address):
    response = page(address)
    content = response.content.decode()
    figures = content.split('<section class="figure"')[1:]
    assert figures
    for figure in figures:
        assert "<table>" in figure or "yet" in figure
        assert 'class="rule"' in figure
        assert ".csv" in figure
        assert (".svg" in figure) == ("<svg" in figure)


@pytest.mark.parametrize("address", PATHS)
def test_each_figure_can_be_taken_along(history, page, address):
    content = page(address).content.decode()
    names = {part.split('"')[0] for part in content.split('aria-labelledby="')[1:]}
    drawn = drawings(page(address))
    taken = 0
    for name in sorted(names - {f"{one}-title {one}-desc" for one in drawn}):
        response = page(address, **{"as": f"{name}.csv"})
        assert response.status_code == 200
        assert response.headers["Content-Type"] == "text/csv; charset=utf-8"
        assert f'filename="{name}-harbour-2026-03-03.csv"' in response["Content-Disposition"]
        head, *rows = csv.reader(StringIO(response.content.decode("utf-8-sig")))
        assert all(len(row) == len(head) for row in rows)
        taken += 1
        drawing = page(address, **{"as": f"{name}.svg"})
        assert drawing.status_code == (200 if name in drawn else 404)
        if name in drawn:
            assert drawing.headers["Content-Type"] == "image/svg+xml"
            assert ElementTree.fromstring(drawing.content).find("s:title", SPACE).text
    assert taken


@pytest.mark.parametrize("name", ["team.pdf", "team", "nothing.csv", "", "team.csv.svg", "\x00"])
def test_a_file_that_is_none_is_not_found(history, page, name):
    assert page("results", **{"as": name}).status_code == 404


def test_a_drawing_shows_formats_at_the_common_horizon(history, page):
    """All are followed for 365 days: 5 of 20 and 10 of 20, and nobody closed."""
    svg = drawings(page("results-formats"))["formats"]
    told = svg.find("s:desc", SPACE).text
    assert "within 365 days" in told
    assert "half: 25%, " in told
    assert "hour: 50%, " in told


def test_no_format_is_ranked_while_any_has_under_ten_engagements(history, page):
    told = text_of(page("results-formats"))
    assert "fewer than ten engagements within 365 days (half 5)" in told
    assert "converts more than" not in told


def test_a_name_is_shown_as_text(cast, page):
    add_lead(cast.team, format=FormatFactory(team=cast.team, name="<b>half</b> & =1+1"))
    content = page("results-formats").content.decode()
    assert "<b>half" not in content
    assert "&lt;b&gt;half&lt;/b&gt; &amp; =1+1" in content


def test_a_name_that_a_spreadsheet_would_run_is_made_text(cast, page):
    add_lead(cast.team, format=FormatFactory(team=cast.team, name="=1+1"))
    sheet = page("results-formats", **{"as": "formats.csv"}).content.decode()
    assert "'=1+1," in sheet


def test_the_page_narrows_what_it_shows_and_says_so(history, page):
    response = page("results", format="name:hour")
    told = text_of(response)
    assert "Only leads with format hour, by facts dated Tue 3 Mar 2026 or earlier" in told
    assert "Of 20 leads with a held session 10 engaged" in told
    # Files and other pages are narrowed alike.
    assert 'href="?format=name%3Ahour&amp;as=team.csv"' in response.content.decode()
    assert "/results/return/?format=name%3Ahour" in response.content.decode()


def test_what_nobody_is_like_says_so(history, page):
    assert "No lead is like that." in text_of(page("results", year="2024"))


def test_htmx_gets_the_figures_alone_and_what_changes_around_them(history, page):
    response = page("results", headers={"HX-Request": "true"}, format="name:hour")
    content = response.content.decode()
    assert "<html" not in content
    assert 'id="sections" aria-label="Results" hx-swap-oob="true"' in content
    assert '<summary id="chosen" hx-swap-oob="innerHTML">' in content
    assert "HX-Request" in response.headers["Vary"]


@pytest.mark.parametrize("headers", [None, {"HX-Request": "true"}])
def test_what_cannot_be_read_is_named_and_kept(history, page, headers):
    response = page("results-return", headers=headers, budget_from="lots", year="soon")
    # htmx shows only what went well.
    assert response.status_code == (200 if headers else 422)
    told = text_of(response)
    assert "“Budget at entry from” is no amount. Write it as 5000.00." in told
    assert "“Year of the first session” is no year. Write it as 2026." in told
    if headers is None:
        assert 'value="lots"' in response.content.decode()


def test_only_owners_see_the_crew(history, cast, sign_in):
    for who, answer in ((cast.owner, 200), (cast.member, 403), (cast.reader, 403)):
        client = sign_in(who)
        assert client.get(url("results-crew")).status_code == answer
        assert client.get(url("results-crew"), {"as": "crew.csv"}).status_code == answer
        content = client.get(url("results")).content.decode()
        assert (url("results-crew") in content) == (answer == 200)
        assert ("id_facilitator" in content) == (answer == 200)
        assert ('"crew"' in client.get(url("results"), {"as": "json"}).content.decode()) == (
            answer == 200
        )


def test_who_ran_it_is_never_shown_without_the_caution(cast, page):
    lead = add_lead(cast.team)
    CrewPlace.objects.create(
        team=cast.team, session=lead.sessions.get(), member=cast.member, part="facilitator"
    )
    told = text_of(page("results-crew"))
    assert "Mateus Coelho" in told
    assert "Few sessions say little about a person" in told


def test_returns_are_listed_a_page_at_a_time_and_all_in_the_sheet(cast, page):
    fmt = FormatFactory(team=cast.team, name="hour")
    for number in range(PAGE + 2):
        add_lead(
            cast.team,
            ("no budget yet", INDEX),
            ("engaged", INDEX + timedelta(days=number)),
            organisation=f"Returned {number:03d}",
            format=fmt,
        )
    first, second = page("results-return"), page("results-return", **{"from": PAGE})
    assert f"Returns 1 to {PAGE} of {PAGE + 2}, the newest first." in text_of(first)
    assert "Returned 051" in text_of(first)
    assert "Returned 001" not in text_of(first)
    assert "Returned 001" in text_of(second)
    assert 'href="?from=50#earned"' in first.content.decode()
    sheet = page("results-return", **{"as": "earned.csv", "from": PAGE}).content.decode()
    assert len(sheet.splitlines()) == PAGE + 3
    for odd in ("3", "-50", "x", "99999999999", "\x00"):
        assert "Returns 1 to 50" in text_of(page("results-return", **{"from": odd}))


def test_a_return_is_told_with_its_session_and_its_fee(cast, page):
    lead = add_lead(
        cast.team,
        ("no budget yet", INDEX),
        ("engaged", date(2025, 3, 1)),
        organisation="Alderwick Dairy",
        format=FormatFactory(team=cast.team, name="hour"),
    )
    Decision.objects.filter(lead=lead, kind="engaged").update(fee=Decimal(1200), currency="EUR")
    told = text_of(page("results-return"))
    assert (
        "Alderwick Dairy hour, 10 Jan 2025 10 Jan 2025 not noted 1 Mar 2025, after 50 days "
        "1,200.00 EUR"
    ) in told


def test_waiting_leads_stand_in_the_order_asked_for(cast, page):
    for number, (name, month) in enumerate((("Late", 9), ("Soon", 4), ("Never", None))):
        lead = add_lead(
            cast.team,
            ("no budget yet", INDEX + timedelta(days=number)),
            organisation=f"{name} Works",
        )
        Decision.objects.filter(lead=lead).update(
            funding_expected_on=None if month is None else date(2026, month, 1)
        )
    told = text_of(page("results-waiting", order="month"))
    places = [told.index(f"{name} Works") for name in ("Soon", "Late", "Never")]
    assert places == sorted(places)
    assert "April 2026" in told
    for odd in ("", "rank", "\x00"):
        assert page("results-waiting", order=odd).status_code == 200
