"""The team hears of an enquiry at once, and whether it may be a lead that it has already."""

import pytest

from pipeline.clock import moment
from pipeline.followups.models import Consent
from pipeline.followups.sweep import sweep
from pipeline.jobs.models import Job
from pipeline.leads.merging import merge
from pipeline.leads.models import Contact, Lead
from pipeline.leads.removing import remove_lead
from pipeline.mail.models import Letter, StoppedAddress, digest_of
from tests.conftest import NOW, TODAY
from tests.enquiries.pages import AGREEMENT, TYPED, enquire, later
from tests.factories import AbsenceFactory, ContactFactory, DecisionFactory, LeadFactory

pytestmark = pytest.mark.django_db


def notes():
    """Do what is due; return the notes that are there."""
    with later(minutes=1):
        sweep(moment.now())
    return list(Letter.objects.filter(stops="notes").order_by("to"))


@pytest.fixture
def known(cast):
    """A lead of the same organisation, written otherwise."""
    return LeadFactory(team=cast.team, organisation="ALDER-MILL, Lda.")


def test_everybody_who_wants_notes_hears_of_it_once(page, browser, cast, settings):
    settings.BASE_URL = "https://desk.example"
    enquire(browser, agrees="on")
    found = notes()
    assert [row.to for row in found] == ["mateus@harbour.example", "olive@harbour.example"]
    assert {row.subject for row in found} == {"Harbour Studio: Alder Mill enquired"}
    assert (
        found[0].text.partition("\nYou get this letter")[0]
        == f"""Good day Mateus Coelho,

Alder Mill enquired by your public page.

Who: Ines Faro, ines@alder.example
Letters: agreed: “{AGREEMENT}”

A new site.
We have until May.

Nobody looks after it yet. All that happened with Alder Mill:
https://desk.example/t/harbour/leads/{Lead.objects.get().pk}/
"""
    )
    assert len(notes()) == 2


def test_words_from_outside_are_no_html_in_the_letter(page, browser):
    enquire(browser, about="<img src=x>", organisation="<b>Alder</b>")
    for letter in notes():
        assert "&lt;img src=x&gt;" in letter.html
        assert "<b>Alder" not in letter.html


def test_the_letter_names_the_leads_that_it_may_be(page, browser, known):
    enquire(browser)
    assert "- ALDER-MILL, Lda. (enquiry)\n" in notes()[0].text
    assert "ALDER-MILL, Lda." in notes()[0].html


def test_a_tick_is_kept_with_its_day_and_its_words_and_stands_on_the_leads_page(
    page, browser, cast, sign_in
):
    enquire(browser, agrees="on")
    notes()
    kept = Consent.objects.get()
    assert (kept.contact, kept.lead) == (Contact.objects.get(), Lead.objects.get())
    assert (kept.day, kept.how, kept.said) == (TODAY, "by a form", AGREEMENT)
    assert (kept.recorded_by, kept.withdrawn_on) == (None, None)
    shown = sign_in(cast.reader).get(kept.lead.get_absolute_url()).text
    assert "Ines Faro agreed to letters, by a form" in shown
    assert AGREEMENT in shown


def test_without_a_tick_nothing_is_kept_and_of_who_was_erased_neither(page, browser):
    enquire(browser)
    enquire(browser, agrees="on", about="Something else.")
    Contact.objects.filter(lead__log__gist="Something else.").update(erased_at=NOW)
    notes()
    assert not Consent.objects.exists()


def test_a_tick_sends_nothing_to_who_asked_for_no_more(page, browser, cast):
    stopped = {"address": digest_of(TYPED["email"]), "stopped_at": NOW}
    StoppedAddress.objects.create(team=cast.team, **stopped)
    enquire(browser, agrees="on")
    assert "Letters: they had asked for no more" in notes()[0].text
    assert StoppedAddress.objects.has(cast.team, TYPED["email"])
    assert not Consent.objects.exists()


def test_who_wants_none_who_only_reads_and_who_is_away_get_none(page, browser, cast):
    cast.owner.wants_notes = False
    cast.owner.save()
    AbsenceFactory(member=cast.member)
    enquire(browser)
    assert notes() == []


def test_of_a_lead_that_was_removed_meanwhile_nobody_hears(page, browser):
    enquire(browser)
    remove_lead(lead=Lead.objects.get())
    assert notes() == []
    assert Job.objects.stuck().count() == 0


def test_of_a_lead_that_was_merged_meanwhile_the_letter_names_the_one_that_was_kept(
    page, browser, cast, known
):
    enquire(browser)
    merge(kept=known, gone=Lead.objects.latest("pk"), member=cast.member, now=NOW)
    letter = notes()[0]
    assert letter.subject == "Harbour Studio: ALDER-MILL, Lda. enquired"
    assert "A new site." in letter.text
    assert f"/leads/{known.pk}/" in letter.text


def test_the_leads_page_says_which_lead_it_may_be_and_leads_to_the_merge(
    page, browser, cast, known, sign_in
):
    same = LeadFactory(team=cast.team, organisation="Elsewhere")
    ContactFactory(lead=same, email="INES@alder.example")
    LeadFactory(team=cast.other_team, organisation="Alder Mill")
    enquire(browser)
    lead = Lead.objects.latest("pk")

    shown = sign_in(cast.member).get(lead.get_absolute_url())

    assert set(shown.context["may_be"]) == {known, same}
    assert f"/t/harbour/leads/{lead.pk}/merge/?other={known.pk}" in shown.text
    reader = sign_in(cast.reader).get(lead.get_absolute_url()).text
    assert "ALDER-MILL" in reader
    assert "merge" not in reader


def test_the_hint_goes_once_something_followed_and_never_stands_at_other_leads(
    page, browser, cast, known, sign_in
):
    enquire(browser)
    lead, member = Lead.objects.latest("pk"), sign_in(cast.member)
    assert "It may be" not in member.get(known.get_absolute_url()).text
    assert "It may be" in member.get(lead.get_absolute_url()).text
    DecisionFactory(lead=lead)
    Lead.objects.filter(pk=lead.pk).update(standing="waiting for funding")
    assert "It may be" not in member.get(lead.get_absolute_url()).text
