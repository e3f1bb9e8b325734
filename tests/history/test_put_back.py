"""What was removed can be put back for thirty days, with what went with it."""

from datetime import date, timedelta

import pytest

from pipeline.clock import moment
from pipeline.followups.models import FollowUp
from pipeline.followups.plans import ensure_plan
from pipeline.history.forgetting import forget_removed
from pipeline.history.models import KEPT, Change
from pipeline.leads import recording
from pipeline.leads.models import Contact, Decision, Lead
from pipeline.leads.people import remove_contact
from pipeline.leads.removing import put_back_removed, remove_lead
from pipeline.leads.settle import settle
from pipeline.teams.acting import acting
from pipeline.teams.refused import Refused
from sessions.models import CrewPlace, DiscoverySession, Note
from tests.conftest import NOW
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    FundingFactory,
    LeadFactory,
    SessionFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(cast):
    ensure_plan(cast.team)
    return LeadFactory(team=cast.team, organisation="Tide & Co", owner=cast.member)


def rows_of(model):
    return list(model.objects.order_by("pk").values())


def removed(table):
    return Change.objects.filter(removed=True, table=table).latest("pk")


def back(cast, change, now=NOW):
    return put_back_removed(team=cast.team, change=change, now=now)


def test_a_decision_comes_back_as_it_was_and_what_follows_from_it(cast, lead):
    recording.record_decision(
        lead=lead,
        member=cast.member,
        now=NOW,
        kind="no budget yet",
        day=date(2026, 3, 2),
        reason="No money before summer",
    )
    before, planned = rows_of(Decision), FollowUp.objects.filter(state="open").count()
    assert planned
    with acting(member=cast.member.pk, now=NOW):
        recording.remove_decision(decision=Decision.objects.get(), now=NOW)
    lead.refresh_from_db()
    assert lead.standing == "enquiry"
    back(cast, removed("leads_decision"))
    assert rows_of(Decision) == before
    lead.refresh_from_db()
    assert lead.standing == "waiting for funding"
    assert FollowUp.objects.filter(state="open").count() == planned


def test_putting_back_twice_changes_nothing(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined")
    recording.remove_decision(decision=decision, now=NOW)
    change = removed("leads_decision")
    back(cast, change)
    back(cast, change)
    assert Decision.objects.count() == 1
    change.refresh_from_db()
    assert change.put_back_at == NOW


def test_a_whole_lead_comes_back_with_every_row_of_it(cast, lead):
    contact = ContactFactory(lead=lead, email="ida@tide.example")
    session = SessionFactory(lead=lead)
    session.attendees.add(contact)
    CrewPlace.objects.create(team=cast.team, session=session, member=cast.member, part="support")
    DeliverableFactory(lead=lead, session=session)
    FundingFactory(lead=lead)
    models = (Lead, Contact, DiscoverySession, CrewPlace, Note)
    settle(cast.team, [lead.pk], now=NOW)
    before = {model: rows_of(model) for model in models}
    with acting(member=cast.member.pk, now=NOW):
        remove_lead(lead=lead)
    assert not any(model.objects.exists() for model in models)
    back(cast, removed("leads_lead"))
    assert {model: rows_of(model) for model in models} == before
    assert DiscoverySession.objects.get().attendees.get() == Contact.objects.get()


def test_what_pointed_to_a_removed_row_points_to_it_again(cast, lead):
    contact = ContactFactory(lead=lead)
    session = SessionFactory(lead=lead)
    session.attendees.add(contact)
    key = contact.pk
    with acting(member=cast.member.pk, now=NOW):
        remove_contact(contact=contact)
    assert not session.attendees.exists()
    back(cast, removed("leads_contact"))
    assert session.attendees.get().pk == key


def test_after_thirty_days_it_is_gone(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined")
    with acting(member=None, now=NOW):
        recording.remove_decision(decision=decision, now=NOW)
    change = removed("leads_decision")
    last = NOW + KEPT
    assert forget_removed(cast.team, last) == 0
    with pytest.raises(Refused, match="30 days"):
        back(cast, change, now=last + timedelta(seconds=1))
    assert forget_removed(cast.team, last + timedelta(seconds=1)) == 1
    change.refresh_from_db()
    assert change.said == {}


def test_what_was_put_back_is_not_forgotten(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined")
    with acting(member=None, now=NOW):
        recording.remove_decision(decision=decision, now=NOW)
    back(cast, removed("leads_decision"))
    assert forget_removed(cast.team, NOW + 2 * KEPT) == 0


def test_where_something_else_took_its_place_it_is_refused_in_words(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined", day=date(2026, 3, 1))
    recording.remove_decision(decision=decision, now=NOW)
    DecisionFactory(lead=lead, kind="declined", day=date(2026, 3, 1))
    with pytest.raises(Refused, match="in its place"):
        back(cast, removed("leads_decision"))
    assert Decision.objects.count() == 1


def test_what_belonged_to_something_that_is_gone_is_refused_in_words(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined")
    with acting(member=None, now=NOW):
        recording.remove_decision(decision=decision, now=NOW)
    with acting(member=None, now=NOW):
        remove_lead(lead=lead)
    with pytest.raises(Refused, match="Put that back first"):
        back(cast, removed("leads_decision"))
    back(cast, removed("leads_lead"))
    back(cast, removed("leads_decision"))
    assert Decision.objects.count() == 1


def test_a_lead_into_which_another_was_merged_is_not_removed(cast, lead):
    LeadFactory(team=cast.team, merged_into=lead)
    with pytest.raises(Refused, match="Part them first"):
        remove_lead(lead=lead)


def test_the_page_lists_what_was_removed_and_puts_it_back(cast, lead, sign_in):
    decision = DecisionFactory(lead=lead, kind="declined", reason="Too far away")
    browser = sign_in(cast.member)
    page = browser.get(f"/t/harbour/decisions/{decision.pk}/remove/")
    key = page.context["form"]["submission"].value()
    browser.post(f"/t/harbour/decisions/{decision.pk}/remove/", {"submission": key})
    page = browser.get("/t/harbour/removed/").content.decode()
    assert "Too far away" in page
    assert "by Mateus Coelho" in page
    assert "</strong> of Tide &amp; Co, removed" in page
    change = removed("leads_decision")
    answer = browser.post(f"/t/harbour/removed/{change.pk}/put-back/")
    assert answer.url == f"/t/harbour/leads/{lead.pk}/"
    assert Decision.objects.get().reason == "Too far away"
    assert "Nothing was removed" in browser.get("/t/harbour/removed/").content.decode()


def test_a_lead_removed_on_its_page_is_one_entry_that_says_how_much_went(cast, lead, sign_in):
    ContactFactory(lead=lead)
    browser = sign_in(cast.member)
    address = f"/t/harbour/leads/{lead.pk}/remove/"
    key = browser.get(address).context["form"]["submission"].value()
    assert browser.post(address, {"submission": key}).url == "/t/harbour/removed/"
    assert browser.post(address, {"submission": key}).url == "/t/harbour/removed/"
    page = browser.get("/t/harbour/removed/").content.decode()
    assert page.count("Put it back") == 1
    assert "with 1 other row" in page


def test_the_days_end_on_the_page_too(cast, lead, sign_in):
    decision = DecisionFactory(lead=lead, kind="declined")
    with acting(member=None, now=NOW):
        recording.remove_decision(decision=decision, now=NOW)
    browser = sign_in(cast.reader)
    assert "Decision" in browser.get("/t/harbour/removed/").content.decode()
    with moment.stopped(NOW + KEPT + timedelta(seconds=1)):
        browser = sign_in(cast.reader)
        assert "Nothing was removed" in browser.get("/t/harbour/removed/").content.decode()
