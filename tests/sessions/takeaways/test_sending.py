"""Sending a takeaway is one action: file, link, letters, deliverable; all of it or nothing."""

import uuid

import pytest

from pipeline.mail.models import Letter
from sessions.deliverables import mark_sent
from sessions.models import Deliverable, SharedTakeaway
from sessions.takeaways import sending
from sessions.takeaways.setting import set_takeaway
from tests.conftest import NOW, TODAY
from tests.factories import ContactFactory, LeadFactory
from tests.sessions.pages import at, said

from .conftest import kept


@pytest.fixture
def contact(heard):
    found = ContactFactory(lead=heard.lead, name="Ida Brun", email="ida@fernwick.example")
    heard.attendees.add(found)
    return found


def letter(contact, **changes) -> dict:
    return {
        "submission": str(uuid.uuid4()),
        "contacts": [contact.pk],
        "others": "",
        "subject": "Your takeaway",
        "words": "Good day Ida,\n\nhere it is.",
        "seen": 0,
    } | changes


@pytest.fixture
def page(cast, heard):
    return at(cast.team, "takeaway-send", heard.pk)


def test_it_goes_out_by_letter_with_a_link_and_the_deliverable_is_sent(
    cast, sign_in, heard, contact, page
):
    data = letter(contact, others="board@fernwick.example, IDA@fernwick.example")
    answer = sign_in(cast.member).post(page, data)
    assert answer.url == at(cast.team, "takeaway", heard.pk)
    shared = SharedTakeaway.objects.get()
    assert kept(shared.file) == set_takeaway(heard).pdf
    owed = Deliverable.objects.get(session=heard)
    assert (owed.sent_on, shared.deliverable) == (TODAY, owed)
    assert "board@fernwick.example" in owed.sent_to
    letters = list(Letter.objects.order_by("pk"))
    assert [row.to for row in letters] == ["ida@fernwick.example", "board@fernwick.example"]
    for row in letters:
        assert sending.link_to(shared) in row.text
        assert sending.link_to(shared) in row.html
        assert "here it is." in row.text
        assert "Mateus Coelho\nHarbour Studio" in row.text


def test_a_second_click_sends_nothing_more(cast, sign_in, contact, page):
    data, browser = letter(contact), sign_in(cast.member)
    browser.post(page, data)
    again = browser.post(page, data, follow=True)
    assert "Already done, once" in said(again)[-1]
    assert (SharedTakeaway.objects.count(), Letter.objects.count()) == (1, 1)


def test_of_two_who_send_it_at_once_the_second_is_told_and_may_send_again(
    cast, sign_in, contact, page
):
    sign_in(cast.owner).post(page, letter(contact))
    browser = sign_in(cast.member)
    answer = browser.post(page, letter(contact))
    assert answer.status_code == 422
    assert "by Olive Brandt" in answer.content.decode()
    assert Letter.objects.count() == 1
    seen = answer.context["form"]["seen"].value()
    assert browser.post(page, letter(contact, seen=seen)).status_code == 302
    first, second = SharedTakeaway.objects.order_by("pk")
    assert first.token != second.token
    assert Deliverable.objects.get(session=first.session).sent_on == TODAY


def test_what_was_sent_stays_as_it_was_whatever_is_rewritten(cast, sign_in, heard, contact, page):
    before = set_takeaway(heard).pdf
    sign_in(cast.member).post(page, letter(contact))
    heard.notes.update(text="Something else")
    assert set_takeaway(heard).pdf != before
    assert kept(SharedTakeaway.objects.get().file) == before


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"contacts": []}, "contacts"),
        ({"others": "ida"}, "others"),
        ({"others": ",".join(f"p{n}@a.example" for n in range(21))}, "others"),
        ({"words": ""}, "words"),
        ({"subject": ""}, "subject"),
        ({"seen": ""}, "seen"),
    ],
)
def test_a_wrong_field_is_named_and_nothing_goes_out(cast, sign_in, contact, page, changes, field):
    answer = sign_in(cast.member).post(page, letter(contact) | changes)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not Letter.objects.exists()
    assert not SharedTakeaway.objects.exists()


def test_people_of_another_lead_are_not_to_be_chosen(cast, sign_in, contact, page):
    other = ContactFactory(lead=LeadFactory(team=cast.team))
    answer = sign_in(cast.member).post(page, letter(contact, contacts=[other.pk]))
    assert (answer.status_code, Letter.objects.count()) == (422, 0)


def test_a_session_that_was_not_held_has_nothing_to_send(cast, sign_in, booked):
    answer = sign_in(cast.member).post(
        at(cast.team, "takeaway-send", booked.pk),
        letter(ContactFactory(lead=booked.lead)),
    )
    assert answer.status_code == 422
    assert "Mark the session held first" in answer.content.decode()


def test_where_a_part_fails_nothing_of_it_stays(cast, sign_in, heard, contact, page, monkeypatch):
    def fail(*args, **kwargs):
        raise RuntimeError("the letter could not be written")

    monkeypatch.setattr(sending, "write", fail)
    with pytest.raises(RuntimeError):
        sign_in(cast.member).post(page, letter(contact))
    assert not SharedTakeaway.objects.exists()
    assert Deliverable.objects.get(session=heard).owed
    storage = SharedTakeaway._meta.get_field("file").storage
    assert storage.listdir(f"team-{cast.team.pk}")[1] == []


def test_a_deliverable_that_was_sent_by_hand_keeps_its_day(cast, sign_in, heard, contact, page):
    owed = Deliverable.objects.get(session=heard)
    mark_sent(deliverable=owed, member=cast.owner, now=NOW, sent_on=TODAY, sent_to="by post")
    assert sign_in(cast.member).post(page, letter(contact)).status_code == 302
    owed.refresh_from_db()
    assert owed.sent_to == "by post"
    assert SharedTakeaway.objects.get().deliverable == owed


def test_the_form_knows_who_was_there(cast, sign_in, contact, page):
    form = sign_in(cast.member).get(page).context["form"]
    assert form.initial["contacts"] == [contact.pk]
    assert form.initial["words"].startswith("Good day Ida Brun,")
