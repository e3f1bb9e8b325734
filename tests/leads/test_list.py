"""The list of leads: search, filters, order, pages, and what it says where there is nothing."""

from datetime import date

import pytest

from pipeline.leads import keyset
from pipeline.leads.merging import merge
from pipeline.leads.models import Lead
from tests.conftest import NOW, TODAY
from tests.factories import ContactFactory, FormatFactory, LeadFactory, SourceFactory
from tests.leads.pages import url


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.reader)


def names(browser, **query) -> list[str]:
    page = browser.get(url("leads"), query)
    assert page.status_code == 200
    return [lead.organisation for lead in page.context["page"].rows]


def says(browser, **query) -> str:
    return " ".join(browser.get(url("leads"), query).content.decode().split())


def test_a_row_tells_whom_and_where_and_since_when(browser, cast):
    lead = LeadFactory(
        team=cast.team,
        organisation="Alder Mill",
        owner=cast.member,
        source=SourceFactory(team=cast.team, name="trade fair"),
        standing="waiting for funding",
        standing_since=date(2025, 12, 1),
        index_day=date(2025, 11, 4),
        index_format=FormatFactory(team=cast.team, name="One hour"),
    )
    for name in ("Ines Faro", "Rui Sá", "Third Person", "Fourth Person"):
        ContactFactory(lead=lead, name=name)

    page = says(browser)

    for words in (
        "Alder Mill",
        "Ines Faro, Rui Sá and 2 more",
        "waiting for funding</span> since Mon 1 Dec 2025",
        "3 months ago",
        "looked after by Mateus Coelho; from trade fair",
        "One hour held on Tue 4 Nov 2025",
        "1 lead in all, longest in this standing first.",
    ):
        assert words in page
    assert "Third Person" not in page


def test_only_the_teams_own_leads_that_stand_for_themselves_are_shown(browser, cast):
    kept, gone = (LeadFactory(team=cast.team, organisation=name) for name in ("Kept", "Gone"))
    LeadFactory(team=cast.other_team, organisation="Theirs")
    merge(kept=kept, gone=gone, member=cast.member, now=NOW)

    assert names(browser) == ["Kept"]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("alder", ["Alder Mill"]),
        ("MILL alder", ["Alder Mill"]),
        ("école", ["École du Port"]),
        ("ÉCOLE", ["École du Port"]),
        ("ines", ["Alder Mill"]),
        ("faro@alder", ["Alder Mill"]),
        ("b-7", ["École du Port"]),
        ("alder port", []),
        ("%", []),
        ("_", []),
        ("   ", ["Alder Mill", "École du Port"]),
    ],
)
def test_every_word_is_searched_in_names_people_and_references(browser, cast, words, found):
    alder = LeadFactory(team=cast.team, organisation="Alder Mill", reference="A-7")
    ContactFactory(lead=alder, name="Ines", email="faro@alder.example")
    LeadFactory(team=cast.team, organisation="École du Port", reference="B-7")

    assert sorted(names(browser, q=words)) == found


def test_filters_narrow_alone_and_together(browser, cast):
    fair = SourceFactory(team=cast.team)
    hour = FormatFactory(team=cast.team)
    common = {"team": cast.team, "standing": "funded", "standing_since": TODAY}
    LeadFactory(organisation="plain", team=cast.team, standing_since=date(2026, 1, 5))
    LeadFactory(organisation="owned", owner=cast.member, **common)
    LeadFactory(organisation="sourced", source=fair, **common)
    LeadFactory(organisation="held", index_format=hour, owner=cast.member, **common)

    def found(**query) -> set[str]:
        return set(names(browser, **query))

    everything = {"plain", "owned", "sourced", "held"}
    assert found() == everything
    assert found(standing="funded") == everything - {"plain"}
    assert found(owner=cast.member.pk) == {"owned", "held"}
    assert found(owner="none") == {"plain", "sourced"}
    assert found(source=fair.pk) == {"sourced"}
    assert found(source="none") == everything - {"sourced"}
    assert found(format=hour.pk) == {"held"}
    assert found(format="none") == everything - {"held"}
    assert found(since="2026-01-05") == {"plain"}
    assert found(since="2026-01-04") == set()
    assert found(owner=cast.member.pk, format=hour.pk, standing="funded", q="he") == {"held"}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("q", "a\0b"),
        ("q", "x" * 201),
        ("standing", "lost"),
        ("owner", "9" * 40),
        ("source", "x"),
        ("format", "\0"),
        ("since", "last week"),
        ("since", "0001-01-01"),
        ("sort", "colour"),
    ],
)
def test_a_filter_that_cannot_be_read_says_so_and_narrows_nothing(browser, cast, field, value):
    LeadFactory(team=cast.team, organisation="Alder Mill")

    page = browser.get(url("leads"), {field: value})

    assert page.status_code == 200
    assert list(page.context["filters"].errors) == [field]
    assert 'class="errorlist"' in page.content.decode()
    assert [lead.organisation for lead in page.context["page"].rows] == ["Alder Mill"]


def test_another_teams_people_sources_and_formats_are_no_filter(browser, cast):
    theirs = FormatFactory(team=cast.other_team, name="Their format")
    SourceFactory(team=cast.other_team, name="Their source")

    page = browser.get(url("leads"), {"format": theirs.pk})

    assert "format" in page.context["filters"].errors
    for words in ("Their format", "Their source", "Quin Abara"):
        assert words not in page.content.decode()


def test_nothing_yet_nothing_found_and_nothing_on_this_side_say_what_to_do(browser, cast, sign_in):
    assert "A member of the team can log the first one." in says(browser)
    assert "Log the first one" in says(sign_in(cast.member))
    lead = LeadFactory(team=cast.team)
    assert "No lead is like that." in says(browser, q="nowhere")
    assert "Go to the first ones." in says(browser, after=f"{lead.pk}.9999-12-31")


def test_pages_keep_the_filters_and_reach_the_last_lead(browser, cast, monkeypatch):
    monkeypatch.setattr(keyset.page, "__kwdefaults__", {"after": "", "before": "", "size": 2})
    for n in range(5):
        LeadFactory(team=cast.team, organisation=f"Alder & {n}")
    LeadFactory(team=cast.team, organisation="Birch")

    page = browser.get(url("leads"), {"q": "alder", "sort": "name"})
    seen = []
    while True:
        seen += [lead.organisation for lead in page.context["page"].rows]
        assert "5 leads match, by organisation." in " ".join(page.content.decode().split())
        link = page.content.decode().partition('rel="next" href="')[2].partition('"')[0]
        if not link:
            break
        page = browser.get(url("leads") + link.replace("&amp;", "&"))

    assert seen == [f"Alder & {n}" for n in range(5)]
    assert 'rel="prev"' in page.content.decode()


def test_htmx_is_given_the_list_alone_and_a_restored_page_is_whole(browser, cast):
    LeadFactory(team=cast.team, organisation="Alder Mill")

    part = browser.get(url("leads"), {"since": "x"}, headers={"HX-Request": "true"})
    whole = browser.get(
        url("leads"), headers={"HX-Request": "true", "HX-History-Restore-Request": "true"}
    )

    text = part.content.decode()
    assert "<h1>" not in text
    assert "Alder Mill" in text
    assert "Unchanged since: Write the day as year-month-day" in text
    assert 'id="count" hx-swap-oob="innerHTML"' in text
    assert "<h1>Leads</h1>" in whole.content.decode()
    assert "HX-Request" in part["Vary"]


def test_the_page_asks_the_database_nine_times_whatever_the_number_of_leads(
    browser, cast, django_assert_num_queries
):
    for n in range(12):
        lead = LeadFactory(
            team=cast.team,
            owner=cast.member,
            source=SourceFactory(team=cast.team),
            index_format=FormatFactory(team=cast.team),
        )
        for _ in range(n % 4):
            ContactFactory(lead=lead)
    assert Lead.objects.count() == 12

    # login session, user, membership; members, sources, formats to choose from;
    # the page of leads with names, their contacts, the count
    with django_assert_num_queries(9):
        browser.get(url("leads"), {"standing": "enquiry", "q": "organisation"})
