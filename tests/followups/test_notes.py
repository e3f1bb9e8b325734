"""As soon as a member records money or a return, the others hear of it, once."""

from datetime import date

import pytest

from pipeline.followups.sweep import sweep
from pipeline.jobs.models import Job
from pipeline.leads.merging import merge
from pipeline.leads.recording import record_decision, record_funding, remove_funding
from pipeline.leads.settle import settle
from pipeline.mail.models import Letter
from sessions.holding import hold
from tests.conftest import NOW, TODAY
from tests.factories import AbsenceFactory, DecisionFactory, LeadFactory, SessionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Tide & Co")


def notes():
    """Do what is due; return the notes that are there, as (to whom, subject)."""
    sweep(NOW)
    rows = Letter.objects.filter(stops="notes").order_by("pk")
    return [(row.to.split("@")[0], row.subject) for row in rows]


def money(lead, member):
    return record_funding(
        lead=lead, member=member, now=NOW, arrived_on=TODAY, note="The grant <came>."
    )


def engaged(lead, member):
    return record_decision(
        lead=lead, member=member, now=NOW, kind="engaged", day=TODAY, fee=4200, currency="EUR"
    )


def test_the_others_hear_that_money_arrived(cast, lead, settings):
    settings.BASE_URL = "https://desk.example"
    money(lead, cast.owner)
    assert notes() == [("mateus", "Harbour Studio: money arrived at Tide & Co")]
    letter = Letter.objects.get(stops="notes")
    assert (
        letter.text.partition("\nYou get this letter")[0]
        == f"""Good day Mateus Coelho,

money arrived at Tide & Co, on Tue 3 Mar 2026.

The grant <came>.

Olive Brandt recorded it. All that happened with Tide & Co:
https://desk.example/t/harbour/leads/{lead.pk}/
"""
    )
    assert "The grant &lt;came&gt;." in letter.html


def test_a_return_is_told_with_the_session_that_earned_it(cast, lead):
    session = SessionFactory(lead=lead, day=date(2026, 1, 20), format__name="An hour")
    hold(session=session, member=cast.owner, now=NOW)
    DecisionFactory(lead=lead, kind="no budget yet", day=date(2026, 1, 27))
    engaged(lead, cast.member)
    assert notes() == [("olive", "Harbour Studio: Tide & Co came back and engaged")]
    text = Letter.objects.get(stops="notes").text
    assert "The fee is 4,200.00 EUR." in text
    assert "The session that earned it: An hour of Tue 20 Jan 2026." in text
    assert session.get_absolute_url() in text


def test_an_engagement_that_is_no_return_is_no_news(cast, lead):
    engaged(lead, cast.member)
    assert notes() == []


def test_a_second_engagement_is_no_second_return(cast, lead):
    DecisionFactory(lead=lead, kind="no budget yet", day=date(2026, 1, 27))
    DecisionFactory(lead=lead, kind="engaged", day=date(2026, 2, 3))
    engaged(lead, cast.member)
    assert notes() == []


def test_each_fact_is_told_once_however_often_its_lead_is_settled(cast, lead):
    money(lead, cast.owner)
    settle(cast.team, [lead.pk], now=NOW)
    assert len(notes()) == 1
    settle(cast.team, [lead.pk], now=NOW)
    merge(kept=lead, gone=LeadFactory(team=cast.team), member=cast.owner, now=NOW)
    assert len(notes()) == 1


def test_what_nobody_recorded_is_told_to_nobody(cast, lead):
    money(lead, None)
    assert not Job.objects.filter(kind="note").exists()


def test_what_was_removed_before_its_note_was_written_is_told_to_nobody(cast, lead):
    remove_funding(funding=money(lead, cast.owner), now=NOW)
    assert notes() == []
    assert Job.objects.stuck().count() == 0


def test_who_wants_none_who_only_reads_and_who_is_away_get_none(cast, lead):
    cast.member.wants_notes = False
    cast.member.save()
    money(lead, cast.owner)
    assert notes() == []
    cast.member.wants_notes = True
    cast.member.save()
    AbsenceFactory(member=cast.member)
    money(LeadFactory(team=cast.team), cast.owner)
    assert notes() == []


def test_another_team_hears_nothing(cast):
    money(LeadFactory(team=cast.other_team), cast.other_owner)
    assert notes() == []
