"""Who asked for no more letters: by address, within the team, until they agree again."""

import uuid
from datetime import timedelta

import pytest

from pipeline.clock import moment
from pipeline.followups.consents import letters_again, no_more_letters
from pipeline.followups.models import Consent
from pipeline.leads.merging import merge, unmerge
from pipeline.leads.people import add_contact, remove_contact
from pipeline.mail.models import StoppedAddress
from pipeline.mail.stopped import refuse_stopped
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.exchange.sheets import bring
from tests.factories import ContactFactory, LeadFactory
from tests.leads.pages import fill, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(cast):
    lead = LeadFactory(team=cast.team, organisation="Fernwick Library")
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


@pytest.fixture
def stopped(cast, ana):
    assert no_more_letters(contact=ana, member=cast.member, now=NOW)
    return ana


def is_stopped(team, address="ana@fernwick.example"):
    return StoppedAddress.objects.has(team, address)


def test_it_is_kept_without_the_address_itself(cast, stopped):
    row = StoppedAddress.objects.get()
    assert "fernwick" not in row.address
    assert (row.team, row.stopped_at, row.by) == (cast.team, NOW, cast.member)
    for written in ("ANA@fernwick.example", " ana@FERNWICK.example "):
        assert is_stopped(cast.team, written)
    assert not is_stopped(cast.other_team)


def test_noted_twice_it_keeps_its_first_day(cast, stopped):
    assert not no_more_letters(contact=stopped, member=cast.owner, now=NOW + timedelta(days=1))
    assert StoppedAddress.objects.get().stopped_at == NOW


def test_two_ways_to_write_one_address_are_both_told(cast, stopped):
    both = ["ana@fernwick.example", "Ana@Fernwick.example", "bo@fernwick.example", ""]
    assert list(StoppedAddress.objects.of(cast.team, both)) == both[:2]


def test_without_an_address_there_is_nothing_to_stop(cast, ana):
    nameless = ContactFactory(lead=ana.lead, email="")
    with pytest.raises(Refused, match="No address is noted"):
        no_more_letters(contact=nameless, member=cast.member, now=NOW)


def test_no_merge_removal_new_entry_or_import_undoes_it(cast, stopped):
    kept = LeadFactory(team=cast.team)
    done = merge(kept=kept, gone=stopped.lead, member=cast.member, now=NOW)
    assert is_stopped(cast.team)
    unmerge(merge=done, now=NOW)
    stopped.refresh_from_db()
    remove_contact(contact=stopped)
    add_contact(lead=kept, name="Ana", email="Ana@fernwick.example")
    bring(
        cast.team,
        [{"organisation": "Another Library", "contact_email": "ana@fernwick.example"}],
    )
    with pytest.raises(Refused, match="asked for no more letters"):
        refuse_stopped(cast.team, ["ana@fernwick.example"])


def test_it_is_taken_back_with_day_and_words_which_are_kept(cast, stopped):
    later = NOW + timedelta(days=3)
    letters_again(
        contact=stopped,
        member=cast.owner,
        now=later,
        day=TODAY + timedelta(days=2),
        words=" On the phone: “do write”. ",
    )
    assert not is_stopped(cast.team)
    kept = Consent.objects.get()
    assert (kept.name, kept.stopped_at, kept.said) == (
        "Ana Prado",
        NOW,
        "On the phone: “do write”.",
    )
    assert (kept.day, kept.recorded_at, kept.recorded_by) == (
        TODAY + timedelta(days=2),
        later,
        cast.owner,
    )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"words": "  "}, "words"),
        ({"day": TODAY + timedelta(days=1)}, "day"),
        ({"day": TODAY - timedelta(days=1)}, "day"),
    ],
)
def test_without_words_or_on_a_day_that_cannot_be_it_stands(cast, stopped, changes, field):
    words = {"contact": stopped, "member": cast.member, "now": NOW, "day": TODAY, "words": "yes"}
    with pytest.raises(Refused) as refused:
        letters_again(**words | changes)
    assert refused.value.field == field
    assert is_stopped(cast.team)
    assert not Consent.objects.exists()


def test_who_never_asked_has_nothing_to_take_back(cast, ana):
    with pytest.raises(Refused, match="nothing needs taking back"):
        letters_again(contact=ana, member=cast.member, now=NOW, day=TODAY, words="yes")


def test_the_leads_page_asks_once_and_then_says_since_when(cast, sign_in, ana):
    browser = sign_in(cast.member)
    lead, ask = url("lead", ana.lead_id), url("contact-no-letters", ana.pk)
    assert ask in browser.get(lead).text
    question = browser.get(ask)
    assert not is_stopped(cast.team)
    page = browser.post(ask, fill(question), follow=True)
    assert "Noted: no more letters go to Ana Prado." in page.text
    assert "ana@fernwick.example asked for no more letters on Tue 3 Mar 2026." in page.text
    assert "mailto:ana@fernwick.example" not in page.text
    assert ask not in page.text


def test_another_person_with_the_address_is_covered_too_and_the_page_says_so(
    cast, sign_in, stopped
):
    other = ContactFactory(
        lead=LeadFactory(team=cast.team), name="A. Prado", email="Ana@Fernwick.example"
    )
    page = sign_in(cast.reader).get(url("lead", other.lead_id)).text
    assert "Ana@Fernwick.example asked for no more letters" in page


def test_what_they_said_stands_in_the_leads_history(cast, sign_in, stopped):
    browser = sign_in(cast.member)
    again = url("contact-letters-again", stopped.pk)
    assert again in browser.get(url("lead", stopped.lead_id)).text
    form = browser.get(again)
    assert "asked for no more letters on Tue 3 Mar 2026" in form.text
    with moment.stopped(NOW + timedelta(days=1)):
        page = browser.post(again, fill(form, words="They wrote to us."), follow=True).text
    assert "Letters may go to Ana Prado again" in page
    assert "They wrote to us." in page
    assert "They had asked for none on Tue 3 Mar 2026." in page
    assert "asked for no more letters on" not in page


def test_what_was_typed_is_kept_where_it_is_refused(cast, sign_in, stopped):
    answer = sign_in(cast.member).post(
        url("contact-letters-again", stopped.pk),
        {"submission": str(uuid.uuid4()), "day": "2026-03-09", "words": "They wrote to us."},
    )
    assert answer.status_code == 422
    assert "still to come" in answer.text
    assert "They wrote to us." in answer.text
    assert is_stopped(cast.team)
