"""Who is no longer needed: listed first, erased by an owner's button, never by itself."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from pipeline.clock import moment
from pipeline.jobs.models import Job
from pipeline.jobs.running import run_jobs
from pipeline.leads.models import Contact
from pipeline.rights.models import DataAct
from pipeline.rights.retention import erase_lapsed, lapsed, progress, seen
from pipeline.teams.models import Team
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    FundingFactory,
    LeadFactory,
    LogEntryFactory,
    OfferFactory,
    ProposalFactory,
    SessionFactory,
)
from tests.leads.pages import fill, url

pytestmark = pytest.mark.django_db

OLD = date(2024, 2, 1)
# The period of 24 months begins here.
FIRST_KEPT = date(2024, 3, 3)


@pytest.fixture
def team(cast):
    Team.objects.filter(pk=cast.team.pk).update(retention_months=24)
    cast.team.refresh_from_db()
    return cast.team


def old_lead(team, **given):
    entered = datetime(2024, 1, 1, 12, tzinfo=UTC)
    return LeadFactory(team=team, enquired_on=OLD, created_at=entered, **given)


@pytest.fixture
def person(team):
    return ContactFactory(lead=old_lead(team))


def names(team, now=NOW):
    return [one.contact.name for one in lapsed(team, now)]


def test_without_a_period_everybody_is_kept(cast):
    ContactFactory(lead=old_lead(cast.team))
    assert lapsed(cast.team, NOW) == []


def test_who_was_last_heard_of_before_the_period_is_listed_with_the_day(team, person):
    (one,) = lapsed(team, NOW)
    assert (one.contact, one.newest) == (person, OLD)


def test_the_longest_quiet_come_first(team, person):
    longer = old_lead(team)
    LogEntryFactory(lead=person.lead, day=date(2024, 2, 20))
    other = ContactFactory(lead=longer)
    assert names(team) == [other.name, person.name]


def test_the_first_day_of_the_period_is_kept(team, person):
    LogEntryFactory(lead=person.lead, day=FIRST_KEPT)
    assert lapsed(team, NOW) == []
    assert names(team, NOW + timedelta(days=1)) == [person.name]


@pytest.mark.parametrize(
    ("make", "given"),
    [
        (LogEntryFactory, {"day": TODAY}),
        (DecisionFactory, {"day": TODAY, "kind": "engaged"}),
        (DecisionFactory, {"day": OLD, "funding_expected_on": date(2027, 1, 1)}),
        (ProposalFactory, {"sent_on": TODAY}),
        (FundingFactory, {"arrived_on": TODAY}),
        (SessionFactory, {"day": TODAY, "state": "held"}),
        (SessionFactory, {"day": OLD, "state": "booked"}),
        (DeliverableFactory, {"due_on": OLD}),
        (DeliverableFactory, {"due_on": OLD, "sent_on": TODAY}),
        (FollowUpFactory, {"due_on": OLD}),
        (FollowUpFactory, {"due_on": OLD, "state": "done", "closed_on": TODAY}),
        (OfferFactory, {"made_at": NOW}),
    ],
)
def test_who_something_was_heard_of_or_is_still_to_come_for_is_kept(team, person, make, given):
    make(lead=person.lead, **given)
    assert lapsed(team, NOW) == []


@pytest.mark.parametrize(
    ("make", "given"),
    [
        (DecisionFactory, {"day": OLD, "kind": "engaged"}),
        (SessionFactory, {"day": OLD, "state": "held"}),
        (DeliverableFactory, {"due_on": OLD, "sent_on": OLD}),
        (FollowUpFactory, {"due_on": OLD, "state": "ended", "closed_on": OLD}),
    ],
)
def test_what_is_long_over_keeps_nobody(team, person, make, given):
    make(lead=person.lead, **given)
    assert names(team) == [person.name]


def test_an_address_that_somebody_has_who_is_needed_keeps_all_who_have_it(team, person):
    ContactFactory(lead=LeadFactory(team=team), email=person.email.upper())
    assert lapsed(team, NOW) == []


def test_who_was_erased_is_listed_no_more(team, person):
    Contact.objects.filter(pk=person.pk).update(erased_at=NOW, name="", email="")
    assert lapsed(team, NOW) == []


def test_the_number_of_queries_does_not_depend_on_the_number_of_people(
    team, person, django_assert_num_queries
):
    for _ in range(5):
        LogEntryFactory(lead=ContactFactory(lead=old_lead(team)).lead, day=OLD)
    with django_assert_num_queries(20):
        assert len(lapsed(team, NOW)) == 6


def test_the_command_lists_and_erases_nobody(team, person):
    for extra in ([], ["--dry-run"]):
        out = StringIO()
        call_command("retention", "harbour", *extra, stdout=out)
        assert out.getvalue() == (
            "Harbour Studio keeps people for 24 months.\n"
            "Would be erased: 1\n"
            f"  {person.pk}  {person}, {person.lead}: last heard of 2024-02-01\n"
        )
    person.refresh_from_db()
    assert person.erased_at is None


def test_the_command_names_what_is_wrong(cast):
    with pytest.raises(CommandError, match="no team 'nowhere'"):
        call_command("retention", "nowhere")
    out = StringIO()
    call_command("retention", "harbour", stdout=out)
    assert "no period" in out.getvalue()


def press(cast, found):
    return erase_lapsed(team=cast.team, member=cast.owner, now=NOW, as_seen=seen(found))


def test_the_button_has_each_erased_and_says_how_far_it_has_come(cast, team, person):
    other = ContactFactory(lead=old_lead(team))
    kept = ContactFactory(lead=LeadFactory(team=team))
    assert press(cast, lapsed(team, NOW)) == 2
    assert (progress(team).done, progress(team).of) == (0, 2)
    run_jobs(NOW)
    assert (progress(team).done, progress(team).of) == (2, 2)
    for row in (person, other, kept):
        row.refresh_from_db()
    assert person.erased_at
    assert other.erased_at
    assert not kept.erased_at
    act = DataAct.objects.get(contact=person)
    assert act.by == cast.owner
    assert act.what_for == "kept for 24 months; last heard of 2024-02-01"


def test_who_was_heard_of_between_the_button_and_the_work_is_kept(cast, team, person):
    press(cast, lapsed(team, NOW))
    LogEntryFactory(lead=person.lead)
    run_jobs(NOW)
    person.refresh_from_db()
    assert person.erased_at is None


def test_a_list_that_has_changed_is_to_be_read_again(cast, team, person):
    found = lapsed(team, NOW)
    ContactFactory(lead=old_lead(team))
    with pytest.raises(Refused, match="changed meanwhile"):
        press(cast, found)
    assert not Job.objects.exists()


def test_nobody_is_ever_erased_by_itself(team, person):
    with moment.stopped(NOW + timedelta(days=4000)):
        run_jobs(moment.now())
    person.refresh_from_db()
    assert person.erased_at is None


def test_an_owner_sets_the_period_reads_the_list_and_presses(cast, team, person, sign_in):
    browser = sign_in(cast.owner)
    page = browser.get(url("retention-period"))
    assert (
        browser.post(url("retention-period"), fill(page, retention_months="5")).status_code == 422
    )
    answer = browser.post(url("retention-period"), fill(page, retention_months="12"))
    assert answer.headers["Location"] == url("retention")
    page = browser.get(url("retention"))
    assert person.name in page.content.decode()
    hidden = page.context["form"]
    typed = {"submission": hidden["submission"].value(), "seen": hidden["seen"].value()}
    assert browser.post(url("retention-erase"), typed).status_code == 422
    for _ in range(2):
        answer = browser.post(url("retention-erase"), {**typed, "sure": "on"})
        assert answer.headers["Location"] == url("retention")
    assert Job.objects.count() == 1
    assert "0 of 1" in browser.get(url("retention")).content.decode()
