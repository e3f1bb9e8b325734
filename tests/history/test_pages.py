"""What was changed can be read from the page of each record, in words."""

from datetime import date
from decimal import Decimal

import pytest

from pipeline.history.models import Change
from pipeline.history.reading import in_words
from pipeline.leads.models import Lead
from pipeline.teams.acting import acting
from pipeline.teams.membership import change_role
from tests.conftest import NOW
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    LeadFactory,
    SessionFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Tide & Co", owner=cast.member)


def lines(row):
    (entry,) = in_words(Change.objects.of(row))
    return [(line.label, line.before, line.after) for line in entry.lines]


def test_a_person_a_day_and_an_amount_are_told_as_the_pages_tell_them(cast, lead):
    lead.owner, lead.enquired_on, lead.budget_at_entry = cast.owner, date(2026, 2, 3), Decimal(900)
    lead.save()
    assert sorted(lines(lead)) == [
        ("Budget at entry", "—", "900"),
        ("Day of the enquiry", "Mon 12 Jan 2026", "Tue 3 Feb 2026"),
        ("Owner", "Mateus Coelho", "Olive Brandt"),
    ]


def test_a_row_that_is_gone_is_told_by_its_number(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined", recorded_by=None)
    Change.objects.create(
        team=cast.team,
        table="leads_decision",
        row=decision.pk,
        at=NOW,
        act="x",
        removed=False,
        said={"recorded_by_id": [987654, None]},
    )
    assert lines(decision) == [("Recorded by", "no. 987654, which is gone", "—")]


def test_the_page_and_its_part_show_who_and_what(cast, lead, sign_in):
    with acting(member=cast.member.pk, now=NOW):
        Lead.objects.filter(pk=lead.pk).update(organisation="Tide <Works>")
    browser = sign_in(cast.reader)
    address = f"/t/harbour/changes/leads.lead-{lead.pk}/"
    for page in (
        browser.get(address).content.decode(),
        browser.get(address, headers={"HX-Request": "true"}).content.decode(),
    ):
        assert "Mateus Coelho" in page
        assert "<del>Tide &amp; Co</del>" in page
        assert "<ins>Tide &lt;Works&gt;</ins>" in page


def test_every_record_leads_to_its_changes(cast, lead, sign_in):
    session = SessionFactory(lead=lead)
    deliverable = DeliverableFactory(lead=lead, session=session)
    follow_up = FollowUpFactory(lead=lead)
    decision = DecisionFactory(lead=lead, kind="declined")
    contact = ContactFactory(lead=lead)
    browser = sign_in(cast.owner)
    for page, label, row in (
        (f"/t/harbour/leads/{lead.pk}/", "leads.lead", lead),
        (f"/t/harbour/sessions/{session.pk}/", "discovery.discoverysession", session),
        (f"/t/harbour/deliverables/{deliverable.pk}/", "discovery.deliverable", deliverable),
        (f"/t/harbour/follow-ups/{follow_up.pk}/", "followups.followup", follow_up),
        (f"/t/harbour/decisions/{decision.pk}/edit/", "leads.decision", decision),
        (f"/t/harbour/contacts/{contact.pk}/edit/", "leads.contact", contact),
        ("/t/harbour/team/", "teams.member", cast.member),
    ):
        address = f"/t/harbour/changes/{label}-{row.pk}/"
        assert address in browser.get(page).content.decode(), page
        assert browser.get(address).status_code == 200


def test_a_change_of_role_is_told(cast):
    change_role(member=cast.member, role="reader")
    assert lines(cast.member) == [("Role", "member", "reader")]


def test_another_teams_changes_and_kinds_that_are_not_kept_are_not_found(cast, lead, sign_in):
    Lead.objects.filter(pk=lead.pk).update(note="ours")
    browser = sign_in(cast.other_owner)
    assert browser.get(f"/t/quarry/changes/leads.lead-{lead.pk}/").status_code == 404
    assert browser.get("/t/quarry/changes/mail.letter-1/").status_code == 404
    assert browser.get("/t/quarry/changes/leads.nothing-1/").status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_changes(
    cast, lead, sign_in, django_assert_num_queries
):
    for n in range(30):
        Lead.objects.filter(pk=lead.pk).update(note=str(n))
    # the changes with who made them, and nothing else: notes point to no row
    with django_assert_num_queries(1):
        assert len(in_words(Change.objects.of(lead))) == 30
