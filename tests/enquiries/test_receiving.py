"""What somebody writes on the public page becomes a lead of its own, once."""

from datetime import UTC, date, datetime

import pytest

from pipeline.clock import moment
from pipeline.enquiries.models import Enquiry, EnquiryPage
from pipeline.leads.merging import merge, unmerge
from pipeline.leads.models import Contact, Lead, LogEntry, Source
from pipeline.leads.people import remove_contact
from tests.conftest import NOW, TODAY
from tests.enquiries.pages import AGREEMENT, AT, TYPED, enquire, later, open_page, read
from tests.factories import ContactFactory, LeadFactory, SourceFactory
from tests.leads.pages import form_of

pytestmark = pytest.mark.django_db


def test_an_enquiry_becomes_a_lead_with_who_wrote_and_what(page, browser, cast):
    answer = enquire(browser, agrees="on")

    assert (answer.status_code, answer.url) == (302, f"{AT}sent/")
    assert "Your enquiry has arrived" in browser.get(answer.url).text
    lead = Lead.objects.get()
    assert (lead.team, lead.organisation, lead.owner) == (cast.team, "Alder Mill", None)
    assert (lead.source.name, lead.enquired_on) == ("enquiry form", TODAY)
    assert lead.standing == "enquiry"
    contact = Contact.objects.get()
    assert (contact.lead, contact.name, contact.email) == (lead, TYPED["name"], TYPED["email"])
    said = LogEntry.objects.get()
    assert (said.lead, said.day, said.channel) == (lead, TODAY, "message")
    assert (said.who, said.gist, said.recorded_by) == (TYPED["name"], TYPED["about"], None)
    enquiry = Enquiry.objects.get()
    assert (enquiry.lead, enquiry.contact) == (lead, contact)


def test_the_words_of_the_agreement_are_kept_as_they_were_read(page, browser):
    filled = read(browser, agrees="on")
    EnquiryPage.objects.update(agreement="We may do whatever we like.")
    with later():
        browser.post(AT, filled)
        assert Enquiry.objects.get().received_at == moment.now()
    assert Enquiry.objects.get().agreed_to == AGREEMENT


@pytest.mark.parametrize("typed", [{}, {"agrees": ""}])
def test_without_a_tick_nobody_agreed(page, browser, typed):
    enquire(browser, **typed)
    assert Enquiry.objects.get().agreed_to == ""


def test_without_words_there_is_no_box_and_a_tick_says_nothing(cast, browser):
    open_page(cast.team, agreement="")
    assert 'name="agrees"' not in browser.get(AT).text
    enquire(browser, agrees="on")
    assert Enquiry.objects.get().agreed_to == ""


def test_the_day_of_the_enquiry_is_the_teams(page, browser, cast):
    cast.team.timezone = "Pacific/Auckland"
    cast.team.save()
    with moment.stopped(datetime(2026, 3, 3, 12, 0, tzinfo=UTC)):
        enquire(browser)
    assert Lead.objects.get().enquired_on == date(2026, 3, 4)


def test_a_source_of_that_name_is_taken_as_it_is(page, browser, cast):
    known = SourceFactory(team=cast.team, name="Enquiry form")
    SourceFactory(team=cast.other_team, name="enquiry form")
    enquire(browser)
    assert Lead.objects.get().source == known
    assert Source.objects.count() == 2


def test_a_double_click_a_reload_and_the_way_back_make_one_lead(page, browser):
    filled = read(browser)
    with later():
        first = browser.post(AT, filled)
        assert browser.post(AT, filled).url == first.url
    with later(minutes=50):
        # fetched anew, with the key that the script keeps
        again = read(browser, submission=filled["submission"])
    with later(minutes=51):
        assert browser.post(AT, again).url == first.url
    assert (Lead.objects.count(), LogEntry.objects.count()) == (1, 1)


def test_who_goes_back_and_writes_something_else_is_heard_too(page, browser):
    filled = read(browser)
    with later():
        browser.post(AT, filled)
        browser.post(AT, {**filled, "about": "And the shop."})
    assert sorted(LogEntry.objects.values_list("gist", flat=True)) == [
        "A new site.\nWe have until May.",
        "And the shop.",
    ]


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("organisation", "", "This field is required."),
        ("organisation", "x" * 201, "at most 200 characters"),
        ("organisation", "a\0b", "Null characters are not allowed."),
        ("organisation", "a\x1bb", "can’t be seen"),
        ("organisation", "a\nb", "can’t be seen"),
        ("organisation", "a\u202eb", "can’t be seen"),
        ("name", "", "This field is required."),
        ("name", "x" * 121, "at most 120 characters"),
        ("name", "a\x85b", "can’t be seen"),
        ("email", "", "This field is required."),
        ("email", "ines at alder", "valid email address"),
        ("email", f"{'x' * 250}@alder.example", "at most 254 characters"),
        ("email", "ines@alder.example\r\nBcc: all@alder.example", "valid email address"),
        ("about", " \r\n ", "This field is required."),
        ("about", "x" * 5001, "at most 5000 characters"),
        ("about", "x" * 1_000_000, "at most 5000 characters"),
        ("about", "a\x07b", "can’t be seen"),
        ("about", "a\u2066b", "can’t be seen"),
    ],
)
def test_bad_input_names_the_field_and_keeps_what_was_typed(page, browser, field, typed, says):
    answer = enquire(browser, **{field: typed}, agrees="on")

    assert answer.status_code == 422
    assert says in "".join(answer.context["form"].errors[field])
    held = form_of(answer)
    assert "agrees" in held
    for name, value in {**TYPED, field: typed}.items():
        # as a browser reads it back
        assert [part.replace("\r\n", "\n") for part in held[name]] == [
            value.replace("\r\n", "\n")
        ], name
    assert not Lead.objects.exists()


@pytest.mark.parametrize(
    "about", ["<script>alert(1)</script>", "سلام 👋🏽", "=1+1", "x" * 5000, "a\r\nb\tc"]
)
def test_what_can_be_read_is_kept_as_it_was_typed(page, browser, cast, sign_in, about):
    assert enquire(browser, about=about, organisation="<b>Alder</b>").status_code == 302
    assert LogEntry.objects.get().gist == about.replace("\r\n", "\n")
    lead = Lead.objects.get()
    shown = sign_in(cast.member).get(lead.get_absolute_url()).text
    assert "<script>alert" not in shown
    assert "<b>Alder</b>" not in shown
    assert "&lt;b&gt;Alder&lt;/b&gt;" in shown


def test_a_form_without_its_key_or_with_nothing_in_it_is_refused_in_words(page, browser):
    for filled in ({}, {"stamp": "é:ß", "submission": "none"}, {"stamp": ["a", "b"]}):
        answer = browser.post(AT, filled)
        assert answer.status_code == 422
        assert 'role="alert"' in answer.text
    assert not Lead.objects.exists()


def test_a_merge_takes_the_enquiry_along_and_hands_it_back(page, browser, cast):
    enquire(browser)
    old, new = LeadFactory(team=cast.team), Lead.objects.get(organisation="Alder Mill")
    done = merge(kept=old, gone=new, member=cast.member, now=NOW)
    assert Enquiry.objects.get().lead == old
    unmerge(merge=done, now=NOW)
    assert Enquiry.objects.get().lead == new


def test_who_wrote_can_be_removed_and_the_enquiry_stays(page, browser):
    enquire(browser, agrees="on")
    remove_contact(contact=Contact.objects.get())
    enquiry = Enquiry.objects.get()
    assert (enquiry.contact, enquiry.agreed_to) == (None, AGREEMENT)


def test_another_teams_page_makes_another_teams_lead(cast, browser):
    open_page(cast.other_team)
    ContactFactory(lead=LeadFactory(team=cast.team, organisation="Alder Mill"))
    enquire(browser, "/enquire/quarry/")
    assert Lead.objects.get(source__name="enquiry form").team == cast.other_team
