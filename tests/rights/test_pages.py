"""The question before erasing, and the search for what names somebody."""

from __future__ import annotations

import pytest

from pipeline.leads.models import LogEntry
from pipeline.mail.models import Letter
from pipeline.rights.erasing import erase
from tests.conftest import NOW
from tests.factories import ContactFactory, LeadFactory, SessionFactory
from tests.leads.pages import fill, url
from tests.rights.people import ADDRESS, NAME, ana_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(cast):
    return ana_of(cast)


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.owner)


def test_the_question_lists_free_text_and_booked_sessions(ana, browser):
    SessionFactory(lead=ana.lead, state="booked").attendees.add(ana)
    told = browser.get(url("contact-erase", ana.pk)).content.decode()
    assert f"{NAME} asks her board." in told
    assert url("log-edit", LogEntry.objects.get().pk) in told
    assert "They will hear no more of it." in told


@pytest.mark.parametrize("typed", ["", "Ana", "yes"])
def test_only_who_types_the_name_erases(ana, browser, typed):
    page = browser.get(url("contact-erase", ana.pk))
    answer = browser.post(page.request["PATH_INFO"], fill(page, what_for="asked", confirm=typed))
    assert answer.status_code == 422
    ana.refresh_from_db()
    assert ana.name == NAME


def test_it_erases_once_and_leads_to_the_search(ana, browser):
    address = url("contact-erase", ana.pk)
    typed = fill(browser.get(address), what_for="asked", confirm="ana  PRADO")
    assert browser.post(address, typed).headers["Location"] == url("rights-search")
    # The same form again, and the page: it is done.
    for answer in (browser.post(address, typed), browser.get(address)):
        assert answer.headers["Location"] == url("contact-data", ana.pk)
    assert "Erased on" in browser.get(url("contact-data", ana.pk)).content.decode()
    lead = browser.get(url("lead", ana.lead_id)).content.decode()
    assert "erased person" in lead
    assert ADDRESS not in lead


def test_others_with_the_address_are_offered_and_may_be_left(cast, ana, browser):
    twin = ContactFactory(lead=LeadFactory(team=cast.team), name="Cy Orr", email=ADDRESS)
    address = url("contact-erase", ana.pk)
    page = browser.get(address)
    assert f"Cy Orr, at {twin.lead}" in page.content.decode()
    typed = fill(page, what_for="asked", confirm=NAME)
    assert typed["others"] == [str(twin.pk)]
    del typed["others"]
    assert browser.post(address, typed).status_code == 302
    twin.refresh_from_db()
    assert twin.email == ADDRESS


def test_the_search_shows_what_hands_edit_and_takes_the_rest_out(ana, browser):
    found = browser.post(url("rights-search"), {"words": f"{NAME}\n{ADDRESS}"})
    told = found.content.decode()
    assert "To be changed by hand" in told
    assert "Kept by the program" in told
    rows = [one.key for one in found.context["kept"]]
    answer = browser.post(url("rights-search"), {"words": NAME, "row": rows, "take_out": "yes"})
    assert "Taken out of" in answer.content.decode()
    assert answer.context["kept"] == []
    assert {one.kind for one in answer.context["by_hand"]} == {
        "contact",
        "conversation",
        "decision",
        "note",
    }
    assert not Letter.objects.filter(text__contains=NAME).exists()


def test_what_was_searched_for_stands_in_no_address(browser):
    page = browser.get(url("rights-search") + "?words=Ana+Prado")
    assert "Ana Prado" not in page.content.decode()


@pytest.mark.parametrize("words", ["", "  ", "An", "Ana Prado\nx"])
def test_what_would_be_found_everywhere_is_refused(browser, words):
    assert browser.post(url("rights-search"), {"words": words}).status_code == 422


def test_an_erased_person_is_not_offered_for_letters_and_can_not_be_corrected(ana, browser):
    address = url("contact-erase", ana.pk)
    browser.post(address, fill(browser.get(address), what_for="asked", confirm=NAME))
    page = browser.get(url("contact-edit", ana.pk))
    answer = browser.post(url("contact-edit", ana.pk), fill(page, name="Ana"))
    assert answer.status_code == 422
    assert "erased for good" in answer.content.decode()


def test_an_erased_person_is_in_no_new_session_and_stays_in_the_old_one(cast, ana, browser):
    old, new = SessionFactory(lead=ana.lead), SessionFactory(lead=ana.lead)
    old.attendees.add(ana)
    erase(contact=ana, member=cast.owner, now=NOW, what_for="asked")
    for address, offered in (
        (url("session-edit", old.pk), True),
        (url("session-edit", new.pk), False),
        (url("session-book", ana.lead_id), False),
    ):
        choices = browser.get(address).context["form"].fields["attendees"].queryset
        assert (ana in choices) == offered
    page = browser.get(url("session-edit", old.pk))
    assert fill(page)["attendees"] == [str(ana.pk)]
    assert (
        ana
        not in browser.get(url("session-times", ana.lead_id))
        .context["form"]
        .fields["contact"]
        .queryset
    )


def test_only_owners_are_led_to_it(cast, sign_in, browser):
    assert url("rights") in browser.get(url("team")).content.decode()
    assert url("rights") not in sign_in(cast.member).get(url("team")).content.decode()
