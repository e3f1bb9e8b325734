"""From a follow-up, or a lead, to a letter: choose, draft, read over, be asked once, send."""

import uuid

import pytest
from django.urls import reverse

from pipeline.followups.models import FollowUp, LeadLetter
from pipeline.mail.models import Letter, StoppedAddress, digest_of
from tests.conftest import NOW
from tests.factories import (
    ContactFactory,
    FollowUpFactory,
    LeadFactory,
    LeadLetterFactory,
    PlanStepFactory,
)
from tests.followups.queries import tables
from tests.leads.pages import fill, form_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(cast):
    lead = LeadFactory(team=cast.team, organisation="Fernwick Library")
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


@pytest.fixture
def follow_up(cast, ana):
    PlanStepFactory(
        edition__team=cast.team,
        letter_subject="Your proposal",
        letter_text="Good day {first name},\n\nis there anything to ask?",
    )
    return FollowUpFactory(
        lead=ana.lead, owner=cast.member, key="proposal sent|2026-02-17||1|1", action="Ask them"
    )


@pytest.fixture
def draft(cast, ana, follow_up):
    return LeadLetterFactory(
        lead=ana.lead, contact=ana, follow_up=follow_up, written_by=cast.owner
    )


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.member)


def stop(team, address):
    StoppedAddress.objects.create(team=team, address=digest_of(address), stopped_at=NOW)


def test_from_the_follow_up_to_the_letter_on_its_way(cast, browser, ana, follow_up):
    page = browser.get(url("follow-up", follow_up.pk))
    start = f"{url('lead-letter-new', ana.lead_id)}?follow_up={follow_up.pk}"
    assert start in page.text
    form = browser.get(start)
    assert form_of(form)["text"] == ["Good day Ana,\n\nis there anything to ask?"]
    saved = browser.post(start, fill(form), follow=True)
    assert "Nothing was sent yet." in saved.text
    row = LeadLetter.objects.get()
    assert (row.follow_up, row.contact, row.subject) == (follow_up, ana, "Your proposal")
    assert not Letter.objects.exists()
    question = browser.get(url("lead-letter-send", row.pk))
    assert "can&#x27;t be called back" in question.text
    assert "done" in form_of(question)
    sent = browser.post(url("lead-letter-send", row.pk), fill(question, done="on"), follow=True)
    assert sent.redirect_chain == [(url("lead-letter", row.pk), 302)]
    assert "The letter is on its way." in sent.text
    assert "waiting to be sent" in sent.text
    assert FollowUp.objects.get().state == "done"
    assert "Letter to Ana Prado: Your proposal" in browser.get(url("lead", ana.lead_id)).text


def test_the_page_shows_the_very_letter_that_arrives(browser, draft):
    seen = browser.get(url("lead-letter", draft.pk))
    question = browser.get(url("lead-letter-send", draft.pk))
    browser.post(url("lead-letter-send", draft.pk), fill(question))
    letter = Letter.objects.get()
    assert seen.context["text"] == letter.text
    assert dict(seen.context["headers"])["Reply-To"] == "Mateus Coelho <mateus@harbour.example>"
    after = browser.get(url("lead-letter", draft.pk))
    assert after.context["text"] == letter.text
    assert after.context["headers"] == seen.context["headers"]


def test_a_second_click_sends_nothing_more(browser, draft):
    data = fill(browser.get(url("lead-letter-send", draft.pk)))
    browser.post(url("lead-letter-send", draft.pk), data)
    again = browser.post(url("lead-letter-send", draft.pk), data, follow=True)
    assert "Already done, once." in again.text
    fresh = {**data, "submission": str(uuid.uuid4()), "version": "2"}
    refused = browser.post(url("lead-letter-send", draft.pk), fresh)
    assert (refused.status_code, Letter.objects.count()) == (422, 1)
    assert "it was sent by Mateus Coelho" in refused.text


def test_with_the_box_empty_the_follow_up_stays_open(browser, draft, follow_up):
    data = fill(browser.get(url("lead-letter-send", draft.pk)))
    del data["done"]
    browser.post(url("lead-letter-send", draft.pk), data)
    assert Letter.objects.exists()
    follow_up.refresh_from_db()
    assert follow_up.state == "open"


def test_a_letter_without_a_follow_up_asks_nothing_of_one(browser, ana):
    row = LeadLetterFactory(lead=ana.lead, contact=ana)
    assert "done" not in form_of(browser.get(url("lead-letter-send", row.pk)))


def test_of_several_people_one_is_chosen_first(browser, ana, follow_up):
    bo = ContactFactory(lead=ana.lead, name="Bo Ek", email="bo@fernwick.example")
    ContactFactory(lead=ana.lead, name="Cy Nil", email="")
    start = f"{url('lead-letter-new', ana.lead_id)}?follow_up={follow_up.pk}"
    page = browser.get(start)
    assert "To whom?" in page.text
    assert f"?follow_up={follow_up.pk}&amp;contact={bo.pk}" in page.text
    assert "Cy Nil" not in page.text
    chosen = browser.get(f"{start}&contact={bo.pk}")
    assert form_of(chosen)["text"] == ["Good day Bo,\n\nis there anything to ask?"]


@pytest.mark.parametrize("wrong", ["x", "-1", "99999999999999999999", "0", "²"])
def test_an_address_that_names_nobody_asks_to_choose(browser, ana, wrong):
    ContactFactory(lead=ana.lead)
    page = browser.get(f"{url('lead-letter-new', ana.lead_id)}?contact={wrong}&follow_up={wrong}")
    assert (page.status_code, "To whom?" in page.text) == (200, True)


def test_without_an_address_or_with_all_stopped_the_page_says_so(cast, browser, ana):
    stop(cast.team, ana.email)
    page = browser.get(url("lead-letter-new", ana.lead_id)).text
    assert "Nobody at this lead may be written to." in page
    assert "Ana Prado asked for no more letters on Tue 3 Mar 2026. Nothing is sent" in page
    chosen = browser.get(f"{url('lead-letter-new', ana.lead_id)}?contact={ana.pk}").text
    assert "Nobody at this lead may be written to." in chosen
    empty = browser.get(url("lead-letter-new", LeadFactory(team=cast.team).pk)).text
    assert "Nobody at this lead has an address yet." in empty


@pytest.mark.parametrize(
    ("typed", "field"),
    [({"subject": ""}, "subject"), ({"text": " "}, "text"), ({"contact": ""}, "contact")],
)
def test_a_wrong_field_is_named_and_what_was_typed_is_kept(browser, ana, typed, field):
    page = url("lead-letter-new", ana.lead_id)
    data = fill(browser.get(page), subject="A subject", text="Long words.") | typed
    answer = browser.post(page, data)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert ("Long words." in answer.text) == ("text" not in typed)
    assert not LeadLetter.objects.exists()


def test_a_draft_for_who_stopped_meanwhile_is_refused_by_name_and_kept(cast, browser, ana):
    page = url("lead-letter-new", ana.lead_id)
    data = fill(browser.get(page), subject="A subject", text="Long words.")
    stop(cast.team, ana.email)
    answer = browser.post(page, data)
    assert answer.status_code == 422
    assert "asked for no more letters" in str(answer.context["form"].errors["contact"])
    assert "Long words." in answer.text


def test_what_stands_open_is_named_and_the_button_is_gone(browser, draft):
    send = url("lead-letter-send", draft.pk)
    page = url("lead-letter", draft.pk)
    assert send in browser.get(page).text
    changed = browser.post(
        page, fill(browser.get(page), text="See you {session day}, {someday}."), follow=True
    )
    assert "{session day} stands open: no session was held" in changed.text
    assert "Nothing is known to fill in for {someday}" in changed.text
    assert send not in changed.text
    refused = browser.post(send, fill(browser.get(send)))
    assert (refused.status_code, Letter.objects.exists()) == (422, False)


def test_two_who_change_one_draft_see_both_versions(cast, browser, sign_in, draft):
    page = url("lead-letter", draft.pk)
    mine = fill(browser.get(page), text="My words")
    other = sign_in(cast.owner)
    other.post(page, fill(other.get(page), text="Other words"))
    answer = browser.post(page, mine)
    assert answer.status_code == 409
    assert "My words" in answer.text
    assert "Other words" in answer.text


def test_sent_by_somebody_while_it_was_changed_the_words_are_not_lost(browser, draft):
    page = url("lead-letter", draft.pk)
    mine = fill(browser.get(page), text="My words")
    browser.post(
        url("lead-letter-send", draft.pk), fill(browser.get(url("lead-letter-send", draft.pk)))
    )
    answer = browser.post(page, mine)
    assert answer.status_code == 422
    assert "can&#x27;t be changed any more" in answer.text
    assert "My words" in answer.text


def test_a_draft_is_thrown_away_once(browser, ana, draft):
    page = url("lead-letter-remove", draft.pk)
    data = fill(browser.get(page))
    assert browser.post(page, data).url == url("lead", ana.lead_id)
    assert not LeadLetter.objects.exists()
    assert "Already done, once." in browser.post(page, data, follow=True).text
    assert browser.get(page).status_code == 404


def test_a_sent_letter_is_neither_asked_for_again_nor_thrown_away(browser, draft):
    send = url("lead-letter-send", draft.pk)
    browser.post(send, fill(browser.get(send)))
    for name in ("lead-letter-send", "lead-letter-remove"):
        assert browser.get(url(name, draft.pk)).url == url("lead-letter", draft.pk)
    kept = browser.post(url("lead-letter-remove", draft.pk), {"submission": str(uuid.uuid4())})
    assert (kept.status_code, LeadLetter.objects.count()) == (422, 1)


def test_a_reader_reads_drafts_and_letters_and_finds_nothing_to_press(cast, sign_in, ana, draft):
    reader = sign_in(cast.reader)
    page = reader.get(url("lead-letter", draft.pk)).text
    assert "how do you fare with what we found?" in page
    for name in ("lead-letter-send", "lead-letter-remove"):
        assert url(name, draft.pk) not in page
    lead = reader.get(url("lead", ana.lead_id)).text
    assert url("lead-letter", draft.pk) in lead
    for name in ("lead-letter-new", "contact-no-letters"):
        assert reverse(name, args=["harbour", ana.pk]) not in lead


def test_drafts_stand_on_the_pages_of_lead_and_follow_up(browser, ana, follow_up, draft):
    assert "Letters not sent yet" in browser.get(url("lead", ana.lead_id)).text
    page = browser.get(url("follow-up", follow_up.pk)).text
    assert url("lead-letter", draft.pk) in page
    assert "to Ana Prado: a draft" in page


def test_the_delivery_itself_is_for_the_sender_and_the_owner(cast, browser, sign_in, draft):
    send = url("lead-letter-send", draft.pk)
    browser.post(send, fill(browser.get(send)))
    link = url("letter", Letter.objects.get().pk)
    for who, sees in ((cast.member, True), (cast.owner, True), (cast.reader, False)):
        assert (link in sign_in(who).get(url("lead-letter", draft.pk)).text) == sees


def test_its_queries_are_these(browser, ana, draft):
    ana.team.name = "unused"
    assert tables(lambda: browser.get(url("lead-letter", draft.pk)))[3:] == [
        "followups_leadletter",
        "mail_stoppedaddress",
        "followups_consent",
        "enquiries_enquiry",
        "leads_contact",
    ]
