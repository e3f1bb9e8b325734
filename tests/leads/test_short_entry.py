"""The short entry: little to type, posted once, an old lead offered first."""

from datetime import date, timedelta

import pytest

from pipeline.leads.merging import merge
from pipeline.leads.models import Contact, Lead, Source
from tests.conftest import NOW, TODAY
from tests.factories import ContactFactory, LeadFactory, SourceFactory
from tests.leads.pages import fill, form_of, url

NEW, FULL = "lead-new", "lead-new-full"


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.member)


def test_the_day_of_the_enquiry_is_today_and_known_sources_are_suggested(browser, cast):
    SourceFactory(team=cast.team, name="trade fair")
    SourceFactory(team=cast.other_team, name="theirs")

    page = browser.get(url(NEW))

    assert form_of(page)["enquired_on"] == ["2026-03-03"]
    assert b'<option value="trade fair">' in page.content
    assert b"theirs" not in page.content


def test_an_organisation_is_enough(browser, cast):
    page = browser.post(url(NEW), fill(browser.get(url(NEW)), organisation="Alder Mill"))

    lead = Lead.objects.get()
    assert page.url == url("lead", lead.pk)
    assert (lead.organisation, lead.owner, lead.enquired_on) == ("Alder Mill", cast.member, TODAY)


def test_a_new_word_for_the_source_makes_the_source(browser, cast):
    known = SourceFactory(team=cast.team, name="Trade fair")
    for organisation, source in [("Alder Mill", "trade fair"), ("Birch Yard", "a friend")]:
        page = browser.get(url(NEW))
        browser.post(url(NEW), fill(page, organisation=organisation, source=source))

    assert Lead.objects.get(organisation="Alder Mill").source == known
    assert Lead.objects.get(organisation="Birch Yard").source.name == "a friend"
    assert Source.objects.count() == 2


def test_posted_twice_it_is_one_lead_and_the_person_is_told(browser, cast):
    typed = fill(
        browser.get(url(NEW)), organisation="Alder Mill", contact_email="ines@alder.example"
    )

    first = browser.post(url(NEW), typed)
    second = browser.post(url(NEW), typed, follow=True)

    assert second.redirect_chain == [(first.url, 302)]
    assert "Already done, once." in second.content.decode()
    assert (Lead.objects.count(), Contact.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    "typed",
    [
        {"organisation": "ALDER-MILL, Lda."},
        {"organisation": "Anything", "contact_email": "INES@alder.example"},
    ],
)
@pytest.mark.parametrize("name", [NEW, FULL])
def test_a_lead_that_returns_is_offered_first_and_nothing_is_stored(browser, cast, name, typed):
    old = LeadFactory(team=cast.team, organisation="Alder Mill")
    ContactFactory(lead=old, name="Ines Faro", email="ines@Alder.example")

    page = browser.post(
        url(name), fill(browser.get(url(name)), contact_name="Rui Sá", source="a friend", **typed)
    )

    body = page.content.decode()
    assert page.status_code == 422
    assert "You may mean this lead" in body
    assert url("lead", old.pk) in body
    assert form_of(page)["contact_name"] == ["Rui Sá"]
    assert (Lead.objects.count(), Source.objects.count()) == (1, 0)

    logged = browser.post(url(name), fill(page, anyway="1"))
    assert logged.status_code == 302
    assert Lead.objects.count() == 2
    assert Contact.objects.filter(name="Rui Sá").exists()


def test_another_teams_lead_is_never_offered(browser, cast):
    theirs = LeadFactory(team=cast.other_team, organisation="Alder Mill")
    ContactFactory(lead=theirs, email="ines@alder.example")

    page = browser.post(
        url(NEW),
        fill(browser.get(url(NEW)), organisation="Alder Mill", contact_email="ines@alder.example"),
    )

    assert page.status_code == 302


def test_a_lead_that_was_merged_away_is_answered_by_the_one_that_was_kept(browser, cast):
    gone = LeadFactory(team=cast.team, organisation="Alder Mill")
    kept = LeadFactory(team=cast.team, organisation="Alder Holding")
    merge(kept=kept, gone=gone, member=cast.member, now=NOW)

    page = browser.post(url(NEW), fill(browser.get(url(NEW)), organisation="Alder Mill"))

    assert page.context["offers"] == [kept]


def test_what_the_short_form_holds_goes_along_to_the_full_one(browser, cast):
    typed = fill(browser.get(url(NEW)), organisation="Alder Mill", contact_email="no address")

    page = browser.post(url(FULL), {**typed, "more": "1"})

    assert page.status_code == 200
    held = form_of(page)
    assert (held["organisation"], held["contact_email"]) == (["Alder Mill"], ["no address"])
    assert not Lead.objects.exists()


def test_the_full_entry_takes_everything(browser, cast):
    page = browser.post(
        url(FULL),
        fill(
            browser.get(url(FULL)),
            organisation="Alder Mill",
            reference="A-17",
            owner=str(cast.owner.pk),
            budget_at_entry="0",
            expected_fee="12500.505",
            currency="gbp",
            followed_since="2026-01-01",
            note="Two floors.\r\nOne lift.",
        ),
    )

    assert page.status_code == 302
    lead = Lead.objects.get()
    assert (lead.reference, lead.owner, lead.currency) == ("A-17", cast.owner, "GBP")
    assert (str(lead.budget_at_entry), str(lead.expected_fee)) == ("0.000", "12500.505")
    assert (lead.followed_since, lead.note) == (date(2026, 1, 1), "Two floors.\nOne lift.")


def test_without_a_reference_the_lead_gets_one(browser):
    browser.post(url(FULL), fill(browser.get(url(FULL)), organisation="Alder Mill"))

    assert len(Lead.objects.get().reference) == 10


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("organisation", "", "This field is required."),
        ("organisation", " ", "This field is required."),
        ("organisation", "x" * 201, "at most 200 characters"),
        ("organisation", "a\0b", "Null characters are not allowed."),
        ("contact_name", "x" * 121, "at most 120 characters"),
        ("contact_email", "ines at alder", "valid email address"),
        ("contact_email", "a\0b@alder.example", "Null characters are not allowed."),
        ("source", "x" * 81, "at most 80 characters"),
        ("source", "a\0b", "Null characters are not allowed."),
        ("enquired_on", "3.3.26", "Write the day as year-month-day"),
        ("enquired_on", "0001-01-01", "four digits"),
        ("enquired_on", "9999-12-31", "still to come"),
        ("enquired_on", str(TODAY + timedelta(days=1)), "still to come"),
        ("reference", "x" * 201, "at most 200 characters"),
        ("reference", "taken", "Another lead has the reference taken"),
        ("owner", "99999999999999999999999", "Select a valid choice"),
        ("owner", "me", "Select a valid choice"),
        ("budget_at_entry", "-1", "greater than or equal to 0"),
        ("budget_at_entry", "1.500,00", "without thousands marks"),
        ("expected_fee", "1000000000000000", "no more than"),
        ("expected_fee", "1.0001", "no more than 3 decimal places"),
        ("expected_fee", "NaN", "without thousands marks"),
        ("expected_fee", "1e999999", "no more than"),
        ("currency", "EURO", "three letters"),
        ("currency", "E\0R", "Null characters are not allowed."),
        ("followed_since", "2027-01-01", "still to come"),
        ("note", "a\0b", "Null characters are not allowed."),
    ],
)
def test_bad_input_names_the_field_and_keeps_what_was_typed(browser, cast, field, typed, says):
    LeadFactory(team=cast.team, reference="taken", organisation="Elsewhere")
    whole = {"organisation": "Alder Mill", "contact_name": "Ines Faro", "note": "Two floors."}

    page = browser.post(url(FULL), fill(browser.get(url(FULL)), **{**whole, field: typed}))

    assert page.status_code == 422
    assert says in "".join(page.context["form"].errors[field])
    held = form_of(page)
    # a box to choose from shows no choice that it has not
    for name, value in {**whole, **({field: typed} if field != "owner" else {})}.items():
        assert held[name] == [value], name
    assert Lead.objects.count() == 1


def test_a_form_without_its_key_is_refused_and_keeps_what_was_typed(browser):
    typed = fill(browser.get(url(NEW)), organisation="Alder Mill", submission="none")

    page = browser.post(url(NEW), typed)

    assert page.status_code == 422
    assert form_of(page)["organisation"] == ["Alder Mill"]
    assert not Lead.objects.exists()


def test_a_very_long_note_is_taken(browser):
    page = browser.post(
        url(FULL), fill(browser.get(url(FULL)), organisation="Alder Mill", note="é" * 500_000)
    )

    assert page.status_code == 302
    assert len(Lead.objects.get().note) == 500_000
