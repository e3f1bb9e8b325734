"""The review of three months: five questions, what can be told and what can't, what to do."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from pipeline.leads.models import Decision
from pipeline.results.cohort import Cohort
from pipeline.results.review.building import review_of
from pipeline.results.review.reading import read
from tests.conftest import TODAY
from tests.factories import DeliverableFactory, FormatFactory, FundingFactory, SessionFactory

from .pages import text_of
from .rows import INDEX, add_lead

URL = "/t/harbour/results/review/"
PARTS = (
    "What we gave",
    "What came back",
    "What we learned",
    "What we can't tell",
    "What to do next week",
)
DAY = timedelta(days=1)


@pytest.fixture
def page(cast, sign_in):
    def asked(**query):
        return sign_in(cast.reader).get(URL, query)

    return asked


@pytest.fixture
def said(cast):
    """What the review says to one of its questions."""

    def ask(name: str, as_of: date = TODAY) -> list[str]:
        parts = review_of(read(Cohort(cast.team, as_of))).parts
        return [line.text for part in parts for line in part.lines if part.name == name]

    return ask


def many(team, number: int, *decisions, **lead) -> None:
    for _ in range(number):
        add_lead(team, *decisions, **lead)


def test_before_the_first_session_it_says_what_to_do(page):
    told = text_of(page())
    assert "No session had been held by Tue 3 Mar 2026." in told
    assert "mark a session held" in told


def test_it_asks_five_questions_in_their_order(cast, page):
    add_lead(cast.team)
    response = page()
    told = text_of(response)
    places = [told.index(part) for part in PARTS]
    assert places == sorted(places)
    assert response.content.count(b"<h1>") == 1


def test_every_line_leads_to_where_its_figure_stands(cast, sign_in, page):
    many(cast.team, 3, ("no budget yet", INDEX))
    content = page().content.decode()
    lines = re.findall(r"<li>(.*?)</li>", content, re.S)
    assert lines
    client = sign_in(cast.reader)
    for line in lines:
        (target,) = re.findall(r'href="([^"]+)"', line)
        assert client.get(target).status_code == 200


def test_what_was_given_is_told_with_hours_and_promises(cast, said):
    session = SessionFactory(
        lead=add_lead(cast.team, held=INDEX), day=TODAY, state="held", effort_before=90
    )
    DeliverableFactory(lead=session.lead, session=session, due_on=TODAY, sent_on=TODAY)
    assert said("gave") == [
        "1 session was held: 1.5 hours of ours.",
        "1 promised thing went out, on time.",
    ]


def test_hours_that_nobody_noted_are_not_called_none(cast, said):
    add_lead(cast.team, held=TODAY)
    assert said("gave")[0] == "1 session was held: hours not noted."


def test_an_empty_quarter_says_so(cast, said):
    add_lead(cast.team)
    assert said("gave") == ["No session was held.", "Nothing promised went out."]
    assert said("back") == ["Nobody engaged.", "No lead closed, and none said “no budget yet”."]


def test_a_return_is_told_with_its_fee(cast, said):
    lead = add_lead(cast.team, ("no budget yet", INDEX), ("engaged", TODAY))
    Decision.objects.filter(lead=lead, kind="engaged").update(fee=1200, currency="EUR")
    assert said("back")[:2] == [
        "1 lead engaged, after waiting for a budget.",
        "They brought 1,200.00 EUR.",
    ]


def test_few_leads_leave_everything_untold(cast, said):
    for name in ("half", "hour"):
        many(
            cast.team, 2, ("no budget yet", INDEX), format=FormatFactory(team=cast.team, name=name)
        )
    assert said("learned") == ["Nothing that can be told from luck yet."]
    unknown = " ".join(said("unknown"))
    assert "Formats: can't tell yet: half and hour have fewer than ten leads" in unknown
    assert "Whether the free hours pay: can't tell yet" in unknown
    assert "How many of 4 waiting leads return soon, and which: can't tell yet" in unknown


def test_what_is_learned_carries_its_count_and_interval(cast, said):
    """Wilson's limits for 10 of 40, of whom all were followed for a year: 0.142 and 0.402
    (R's prop.test without correction)."""
    many(cast.team, 10, ("engaged", INDEX + 30 * DAY))
    many(cast.team, 30)
    assert (
        "Within 365 days of their session 25% of leads engage (95% interval 14% to 40%; 40 leads, "
        "30 still followed by then)."
    ) in said("learned")


def test_formats_that_differ_are_told_apart_and_those_that_do_not_are_not(cast, said):
    for name, won in (("half", 12), ("hour", 34)):
        fmt = FormatFactory(team=cast.team, name=name)
        many(cast.team, won, ("engaged", INDEX + 30 * DAY), format=fmt)
        many(cast.team, 46 - won, format=fmt)
    (line,) = [line for line in said("learned") if "converts more" in line]
    assert line.startswith("hour converts more than half within 365 days: by ")
    assert not [line for line in said("unknown") if line.startswith("Formats")]


def test_nothing_is_both_learned_and_unknown(cast, said):
    many(cast.team, 12, ("no budget yet", INDEX), ("engaged", INDEX + 40 * DAY))
    many(cast.team, 12, ("no budget yet", INDEX))
    both = set(said("learned")) & set(said("unknown"))
    assert not both
    assert said("learned")
    assert said("unknown")


def test_what_is_owed_comes_before_whom_to_write_to(cast, said):
    lead = add_lead(cast.team, ("no budget yet", INDEX), organisation="Alderwick Dairy")
    FundingFactory(lead=lead, arrived_on=date(2026, 2, 2))
    DeliverableFactory(lead=lead, session=lead.sessions.get(), due_on=INDEX, sent_on=None)
    SessionFactory(lead=lead, day=INDEX + DAY, state="booked")
    assert said("next") == [
        "Send or waive 1 promised thing still owed.",
        "Mark 1 session held or missed: its day is over.",
        "Write to Alderwick Dairy: its money arrived on 2 February 2026; it has waited 417 days.",
        "Then go through what is due.",
    ]


def test_at_most_three_leads_are_named(cast, said):
    many(cast.team, 5, ("no budget yet", INDEX))
    assert len([line for line in said("next") if line.startswith("Write to")]) == 3


def test_a_month_that_is_over_is_told_as_over(cast, said):
    for month, words in ((2, "was expected in February 2026"), (3, "is expected in March 2026")):
        lead = add_lead(cast.team, ("no budget yet", INDEX))
        Decision.objects.filter(lead=lead).update(funding_expected_on=date(2026, month, 1))
        assert any(words in line for line in said("next"))


def test_it_is_the_review_of_any_day(cast, page):
    add_lead(cast.team, ("engaged", INDEX + 9 * DAY))
    told = text_of(page(as_of="2025-03-31"))
    assert "Review of the three months to 31 March 2025" in told
    assert "dated 1 January 2025 to 31 March 2025" in told
    assert 'href="?as_of=2024-12-31"' in page(as_of="2025-03-31").content.decode()
    for end in ("0001-01-01", "9999-12-31"):
        assert page(as_of=end).status_code == 200


@pytest.mark.parametrize("kind", [{}, {"as": "pdf"}])
def test_a_day_that_is_none_is_named_with_the_mend_and_kept(page, kind):
    response = page(as_of="soon", **kind)
    assert response.status_code == 422
    assert "“As of” is no day. Write it as 2026-03-31." in text_of(response)
    assert 'value="soon"' in response.content.decode()


def test_it_goes_along_as_a_document(cast, page):
    many(cast.team, 3, ("no budget yet", INDEX))
    response = page(**{"as": "pdf"})
    assert response.headers["Content-Type"] == "application/pdf"
    assert 'filename="review-harbour-2026-03-03.pdf"' in response["Content-Disposition"]
    assert response.content.startswith(b"%PDF-")
    assert response.content == page(**{"as": "pdf"}).content


def test_an_empty_team_has_a_document_too(page):
    assert page(**{"as": "pdf"}).content.startswith(b"%PDF-")
