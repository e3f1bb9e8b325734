"""The person goes, the dated facts stay, and nothing leads back."""

from __future__ import annotations

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection

from pipeline.followups.models import Consent, LeadLetter
from pipeline.history.models import Change
from pipeline.leads.models import Contact, Decision, Lead, LogEntry
from pipeline.leads.people import amend_contact, remove_contact
from pipeline.leads.removing import put_back_removed, remove_lead
from pipeline.mail.models import Letter, StoppedAddress
from pipeline.mail.outbox import write
from pipeline.rights.erasing import erase
from pipeline.rights.finding import mentions, take_out
from pipeline.rights.gathering import words_of
from pipeline.rights.models import DataAct
from pipeline.rights.words import INSTEAD, Words
from pipeline.teams.acting import acting
from pipeline.teams.refused import Refused
from sessions.models import CalendarEntry, Deliverable, Note, Offer, SharedTakeaway
from tests.conftest import NOW
from tests.factories import ContactFactory, LeadFactory, LeadLetterFactory
from tests.rights.people import ADDRESS, COLLEAGUE, NAME, ana_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana(cast):
    return ana_of(cast)


@pytest.fixture
def gone(cast, ana):
    assert erased(cast, ana) == 1
    ana.refresh_from_db()
    return ana


def erased(cast, contact, **rest):
    return erase(contact=contact, member=cast.owner, now=NOW, what_for="asked by phone", **rest)


def whole_database() -> str:
    """Return every cell of every table, as text."""
    told = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            for row in cursor.fetchall():
                cells = (bytes(c) if isinstance(c, (bytes, memoryview)) else c for c in row)
                told += [
                    c.decode("utf-8", "replace") if isinstance(c, bytes) else str(c) for c in cells
                ]
    return "\n".join(told).replace("\r\n ", "").casefold()


def figures() -> str:
    out = StringIO()
    call_command("results", "--team", "harbour", "--format", "json", stdout=out)
    return out.getvalue()


def test_name_address_role_and_zone_go_and_the_row_stays(cast, gone):
    assert (gone.name, gone.email, gone.role, gone.timezone) == ("", "", "", "")
    assert gone.erased_at == NOW
    assert str(gone) == INSTEAD


def test_the_address_is_nowhere_in_the_database(cast, ana):
    assert ADDRESS in whole_database()
    erased(cast, ana)
    assert ADDRESS not in whole_database()


def test_the_name_is_left_in_free_text_alone(cast, gone):
    left = mentions(cast.team, Words.of([NAME]))
    assert {(one.kind, one.label, one.by_hand) for one in left} == {
        ("conversation", "gist", True),
        ("decision", "reason", True),
        ("note", "text", True),
        ("spreadsheet taken in", "content", False),
    }
    assert all(one.url and NAME in one.excerpt for one in left)


def test_after_the_hand_and_the_button_nothing_names_them(cast, gone):
    words = Words.of([NAME])
    for model, field in ((LogEntry, "gist"), (Decision, "reason"), (Note, "text")):
        for row in model.objects.all():
            setattr(row, field, getattr(row, field).replace(NAME, "She"))
            row.save()
    # what was changed is in the history, with the name
    left = mentions(cast.team, words)
    assert {one.kind for one in left} == {"history", "spreadsheet taken in"}
    chosen = {one.key for one in left}
    assert take_out(team=cast.team, words=words, chosen=chosen, member=cast.owner, now=NOW) == 3
    assert NAME.casefold() not in whole_database()
    assert mentions(cast.team, words) == []


def test_only_what_was_chosen_is_changed_and_nothing_that_hands_edit(cast, gone):
    words = Words.of([NAME])
    by_hand = {one.key for one in mentions(cast.team, words) if one.by_hand}
    for chosen in (set(), by_hand):
        assert not take_out(team=cast.team, words=words, chosen=chosen, member=cast.owner, now=NOW)
    assert len(mentions(cast.team, words)) == 4


def test_no_figure_changes(cast, ana):
    before = figures()
    erased(cast, ana)
    assert figures() == before
    session = ana.sessions.get()
    assert (session.attendees.count(), session.attendee_count) == (1, 2)


def test_of_letters_it_stays_known_that_and_when(cast, gone):
    row = LeadLetter.objects.get()
    assert (row.to, row.subject, row.text, row.sent_at) == ("", "Erased", "", NOW)
    assert (row.contact, row.letter.to, row.letter.text) == (gone, "", "")
    theirs = Letter.objects.filter(member=None)
    assert [(one.to, one.text, one.calendar, one.sent_at) for one in theirs] == [
        ("", "", "", NOW)
    ] * 2
    assert Letter.objects.get(member=cast.member).text == "Good day"


def test_drafts_and_waiting_letters_are_thrown_away(cast, ana):
    LeadLetterFactory(lead=ana.lead, contact=ana, text=f"Dear {NAME}")
    write(team=cast.team, key="waits", to=ADDRESS.upper(), subject="s", text="t", due_at=NOW)
    erased(cast, ana)
    assert not LeadLetter.objects.filter(sent_at=None).exists()
    assert not Letter.objects.filter(sent_at=None).exists()


def test_in_lists_the_others_stay(cast, gone):
    assert LogEntry.objects.get().who == f"{INSTEAD} and Bo"
    assert Deliverable.objects.get().sent_to == f"{INSTEAD}, {COLLEAGUE}"
    assert CalendarEntry.objects.get().people == [[COLLEAGUE, "Bo Lang"]]
    assert SharedTakeaway.objects.get().sent_to == INSTEAD
    assert (Offer.objects.get().sent_to, Offer.objects.get().contact) == ("", gone)
    assert Contact.objects.filter(name="Bo Lang", email=COLLEAGUE).exists()


def test_an_agreement_keeps_its_day_and_loses_its_words(gone):
    row = Consent.objects.get()
    assert (row.name, row.said, row.how) == (INSTEAD, "", "in writing")


def test_that_they_asked_for_no_more_letters_stays(cast, ana):
    StoppedAddress.objects.create(team=cast.team, address="a" * 64, stopped_at=NOW)
    erased(cast, ana)
    assert StoppedAddress.objects.count() == 1


def test_it_is_noted_who_did_it_when_and_what_for_without_a_name(cast, ana):
    erase(contact=ana, member=cast.owner, now=NOW, what_for=f"{NAME} asked")
    act = DataAct.objects.get()
    assert (act.done, act.contact, act.by, act.at) == ("erased", ana, cast.owner, NOW)
    assert act.what_for == f"{INSTEAD} asked"


def test_twice_is_once(cast, gone):
    assert erased(cast, gone) == 0
    assert DataAct.objects.count() == 1


def test_nothing_is_noted_of_them_again(cast, gone):
    gone.name = NAME
    with pytest.raises(Refused, match="erased for good"):
        amend_contact(contact=gone, expected_version=gone.version)


def test_what_was_changed_of_them_before_is_gone_too(cast, ana):
    Contact.objects.filter(pk=ana.pk).update(name="Ana P.")
    assert Change.objects.of(ana).count() == 1
    ana.refresh_from_db()
    erased(cast, ana)
    assert not Change.objects.of(ana).exists()


def test_a_removal_that_is_put_back_brings_nobody_back(cast, ana):
    """The same person was noted before, removed, and noted anew."""
    earlier = ContactFactory(lead=ana.lead, name=NAME.upper(), email="")
    other_lead = LeadFactory(team=cast.team)
    elsewhere = ContactFactory(lead=other_lead, name="A. Prado", email=ADDRESS.upper())
    LogEntry.objects.create(
        team=cast.team,
        lead=other_lead,
        day=NOW,
        channel="call",
        who=ADDRESS,
        gist="-",
        recorded_at=NOW,
    )
    with acting(member=cast.member.pk, now=NOW):
        remove_contact(contact=earlier)
        remove_lead(lead=other_lead)
    erased(cast, ana)
    assert ADDRESS not in whole_database()
    removed = Change.objects.to_be_put_back().filter(table="leads_lead").get()
    put_back_removed(team=cast.team, change=removed, now=NOW + timedelta(days=1))
    back = Contact.objects.exclude(pk=ana.pk).exclude(email=COLLEAGUE)
    assert {(row.name, row.email, row.erased_at) for row in back} == {("", "", NOW)}
    assert LogEntry.objects.get(lead=other_lead).who == INSTEAD
    assert elsewhere.pk in {row.pk for row in back}


def test_a_lead_that_was_back_already_is_no_way_round(cast, ana):
    with acting(member=cast.member.pk, now=NOW):
        remove_lead(lead=ana.lead)
    change = Change.objects.to_be_put_back().get(table="leads_lead")
    put_back_removed(team=cast.team, change=change, now=NOW)
    erased(cast, Contact.objects.get(pk=ana.pk))
    assert ADDRESS not in whole_database()
    assert NAME not in json.dumps(list(Change.objects.of(ana).values_list("said", flat=True)))


def test_people_with_the_same_address_go_together(cast, ana):
    twin = ContactFactory(lead=LeadFactory(team=cast.team), email=ADDRESS.upper())
    assert erased(cast, ana) == 2
    twin.refresh_from_db()
    assert twin.erased_at == NOW


def test_who_is_left_keeps_the_address_and_what_went_to_it(cast, ana):
    twin = ContactFactory(lead=LeadFactory(team=cast.team), name="Cy Orr", email=ADDRESS)
    before = Letter.objects.filter(to=ADDRESS).count()
    assert erased(cast, ana, with_same_address=[]) == 1
    twin.refresh_from_db()
    assert twin.email == ADDRESS
    # what was written to her by name is hers, the rest went to the address
    assert Letter.objects.filter(to=ADDRESS).count() == before - 1
    assert LogEntry.objects.get().who == f"{INSTEAD} and Bo"


def test_another_team_keeps_what_it_knows(cast, ana):
    theirs = ContactFactory(lead=LeadFactory(team=cast.other_team), name=NAME, email=ADDRESS)
    write(team=cast.other_team, key="k", to=ADDRESS, subject="s", text=NAME, due_at=NOW)
    erased(cast, ana)
    theirs.refresh_from_db()
    assert (theirs.name, theirs.email) == (NAME, ADDRESS)
    assert Letter.objects.get(team=cast.other_team).text == NAME


def test_the_history_keeps_no_trace_of_the_erasing(cast, ana):
    before = set(Change.objects.values_list("pk", flat=True))
    erased(cast, ana)
    assert set(Change.objects.values_list("pk", flat=True)) <= before


def test_whoever_has_the_row_open_is_told(cast, ana):
    lead_letter, entry = LeadLetter.objects.get(), LogEntry.objects.get()
    erased(cast, ana)
    assert LeadLetter.objects.get().version > lead_letter.version
    assert LogEntry.objects.get().version > entry.version
    assert Contact.objects.get(pk=ana.pk).version > ana.version


def test_leads_are_found_by_their_words_no_more(cast, gone):
    assert words_of(gone).sought == ()
    assert Lead.objects.filter(contacts__name=NAME).count() == 0
