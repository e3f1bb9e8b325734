"""That somebody agreed to letters: the day, the wording, how, and that it was taken back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from pipeline.enquiries.models import Enquiry
from pipeline.followups.consents import (
    agreed_to_letters,
    agreement_of,
    letters_again,
    no_more_letters,
    withdraw,
)
from pipeline.followups.models import Consent
from pipeline.mail.models import StoppedAddress, digest_of
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import ConsentFactory, ContactFactory, LeadFactory, LeadLetterFactory
from tests.leads.pages import fill, url

pytestmark = pytest.mark.django_db

WORDING = "Yes, send me word when there is something new."


@pytest.fixture
def ana(cast):
    lead = LeadFactory(team=cast.team, organisation="Fernwick Library")
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


def agree(cast, contact, **given):
    said = {"day": TODAY, "how": "in writing", "words": WORDING} | given
    return agreed_to_letters(contact=contact, member=cast.member, now=NOW, **said)


def test_it_keeps_who_when_how_and_the_words(cast, ana):
    row = agree(cast, ana)
    assert (row.contact, row.name, row.day, row.how) == (ana, "Ana Prado", TODAY, "in writing")
    assert (row.said, row.recorded_by, row.recorded_at) == (WORDING, cast.member, NOW)
    assert (row.stopped_at, row.withdrawn_on) == (None, None)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"day": TODAY + timedelta(days=1)}, "day"),
        ({"how": ""}, "how"),
        ({"how": "by telepathy"}, "how"),
        ({"words": "  "}, "words"),
    ],
)
def test_what_is_missing_is_named(cast, ana, given, field):
    with pytest.raises(Refused) as refused:
        agree(cast, ana, **given)
    assert refused.value.field == field
    assert not Consent.objects.exists()


def test_who_asked_for_no_more_agrees_again_elsewhere(cast, ana):
    no_more_letters(contact=ana, member=cast.member, now=NOW)
    with pytest.raises(Refused, match="agreed again"):
        agree(cast, ana)


def test_taken_back_it_stays_known_with_its_day(cast, ana):
    row = agree(cast, ana, day=TODAY - timedelta(days=9))
    withdraw(consent=row, now=NOW, day=TODAY)
    row.refresh_from_db()
    assert (row.withdrawn_on, row.said) == (TODAY, WORDING)
    assert not Consent.objects.standing(ana).exists()
    with pytest.raises(Refused, match="already"):
        withdraw(consent=row, now=NOW, day=TODAY)


def test_nobody_takes_back_what_they_had_not_given_yet(cast, ana):
    row = agree(cast, ana)
    with pytest.raises(Refused, match="that day or later"):
        withdraw(consent=row, now=NOW, day=TODAY - timedelta(days=1))


def test_to_want_no_more_letters_takes_it_back(cast, ana):
    agree(cast, ana)
    no_more_letters(contact=ana, member=cast.member, now=NOW)
    assert Consent.objects.get().withdrawn_on == TODAY


def test_a_stop_by_the_letters_own_link_is_noted_once_they_agree_again(cast, ana):
    first = agree(cast, ana)
    StoppedAddress.objects.create(team=cast.team, address=digest_of(ana.email), stopped_at=NOW)
    again = letters_again(contact=ana, member=cast.member, now=NOW, day=TODAY, words="by phone")
    first.refresh_from_db()
    assert first.withdrawn_on == TODAY
    assert list(Consent.objects.standing(ana)) == [again]


def test_the_letters_page_tells_it_and_leads_to_noting_it(cast, ana, sign_in):
    draft = LeadLetterFactory(lead=ana.lead, contact=ana)
    browser = sign_in(cast.member)
    assert (
        url("contact-agreed", ana.pk) in browser.get(url("lead-letter", draft.pk)).content.decode()
    )
    page = browser.get(url("contact-agreed", ana.pk))
    typed = fill(page, how="by word of mouth", words=WORDING)
    for _ in range(2):
        assert browser.post(url("contact-agreed", ana.pk), typed).status_code == 302
    row = Consent.objects.get()
    told = browser.get(url("lead-letter", draft.pk)).content.decode()
    assert WORDING in told
    assert "by word of mouth" in told
    assert url("consent-withdrawn", row.pk) in told
    assert (
        "Ana Prado agreed to letters, by word of mouth"
        in browser.get(url("lead", ana.lead_id)).content.decode()
    )


def enquired(contact, at, agreed_to):
    return Enquiry.objects.create(
        team=contact.team, lead=contact.lead, contact=contact, received_at=at, agreed_to=agreed_to
    )


def test_who_agreed_by_the_enquiry_page_is_shown_with_its_words(cast, ana, sign_in):
    enquired(ana, NOW, "")
    assert agreement_of(ana) is None
    enquired(ana, NOW, "Write to me.")
    found = agreement_of(ana)
    assert (found.day, found.how, found.said) == (TODAY, "by a form", "Write to me.")
    draft = LeadLetterFactory(lead=ana.lead, contact=ana)
    told = sign_in(cast.member).get(url("lead-letter", draft.pk)).content.decode()
    assert "Write to me." in told


def test_what_was_taken_back_since_is_shown_no_more(cast, ana):
    enquired(ana, NOW - timedelta(days=9), "Write to me.")
    ConsentFactory(contact=ana, withdrawn_on=TODAY - timedelta(days=1))
    assert agreement_of(ana) is None
    enquired(ana, NOW, "Do write to me.")
    assert agreement_of(ana).said == "Do write to me."


def test_its_page_notes_that_it_was_taken_back(cast, ana, sign_in):
    row = ConsentFactory(contact=ana)
    browser = sign_in(cast.member)
    page = browser.get(url("consent-withdrawn", row.pk))
    assert browser.post(url("consent-withdrawn", row.pk), fill(page)).status_code == 302
    row.refresh_from_db()
    assert row.withdrawn_on == TODAY
    told = browser.get(url("lead", ana.lead_id)).content.decode()
    assert "They took it back on" in told
