"""Two leads that are one are merged, and parted again without a loss."""

from datetime import date, timedelta

import pytest
from django.apps import apps

from pipeline.leads.entry import log_lead
from pipeline.leads.merging import merge, references, unmerge
from pipeline.leads.models import Contact, Decision, Lead, Merge, Standing
from pipeline.leads.recording import amend_decision, record_decision
from pipeline.leads.settle import settle
from pipeline.teams.models import Stale
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
    ProposalFactory,
    SessionFactory,
)

LATER = NOW + timedelta(hours=1)


@pytest.fixture
def full(cast) -> Lead:
    """A lead with a row of every kind that names a lead."""
    lead = LeadFactory(team=cast.team, organisation="Alder Mill")
    contact = ContactFactory(lead=lead)
    LogEntryFactory(lead=lead)
    DecisionFactory(lead=lead, day=date(2026, 2, 20))
    ProposalFactory(lead=lead, sent_on=date(2026, 2, 10))
    FundingFactory(lead=lead, arrived_on=date(2026, 3, 1))
    session = SessionFactory(lead=lead, state="held", day=date(2026, 2, 1))
    session.attendees.add(contact)
    DeliverableFactory(lead=lead, session=session)
    FollowUpFactory(lead=lead)
    settle(cast.team, [lead.pk], now=NOW)
    lead.refresh_from_db()
    return lead


@pytest.fixture
def kept(cast) -> Lead:
    lead = LeadFactory(team=cast.team, organisation="Alder Mill Lda")
    DecisionFactory(lead=lead, kind="gone quiet", day=date(2025, 11, 3))
    settle(cast.team, [lead.pk], now=NOW)
    lead.refresh_from_db()
    return lead


def rows() -> dict[str, list[dict]]:
    """Return every row of every table that tells about leads, but for what counts versions."""
    left_out = {"version"}
    return {
        model._meta.label: [
            {k: v for k, v in row.items() if k not in left_out}
            for row in model._base_manager.order_by("pk").values()
        ]
        for label in ("leads", "discovery", "followups")
        for model in apps.get_app_config(label).get_models(include_auto_created=True)
        if model is not Merge
    }


def at(lead: Lead) -> set[str]:
    return {label for label, model, f in references() if model.objects.filter(**{f: lead})}


def test_everything_that_names_a_lead_moves_whatever_its_floor(cast, full, kept):
    everything = at(full)
    assert {
        "leads.contact.lead",
        "leads.logentry.lead",
        "leads.decision.lead",
        "leads.proposal.lead",
        "leads.funding.lead",
        "discovery.discoverysession.lead",
        "discovery.deliverable.lead",
        "followups.followup.lead",
    } <= everything

    merge(kept=kept, gone=full, member=cast.member, now=LATER)

    assert at(full) == set()
    assert at(kept) == everything
    full.refresh_from_db()
    kept.refresh_from_db()
    assert full.merged_into == kept
    assert list(Lead.objects.present()) == [kept]
    assert (kept.standing, kept.index_day) == (Standing.FUNDED, date(2026, 2, 1))
    assert full.standing == Standing.ENQUIRY


def test_parting_them_restores_every_row(cast, full, kept):
    before = rows()

    unmerge(merge=merge(kept=kept, gone=full, member=cast.member, now=LATER), now=LATER)

    assert rows() == before


def test_a_row_that_would_be_double_stays_and_is_there_again_after_parting(cast, full, kept):
    twin = DecisionFactory(lead=kept, kind="no budget yet", day=date(2026, 2, 20))
    settle(cast.team, [kept.pk], now=NOW)
    before = rows()

    merged = merge(kept=kept, gone=full, member=cast.member, now=LATER)
    assert list(Decision.objects.filter(lead=kept, kind="no budget yet")) == [twin]
    assert full.decisions.count() == 1
    assert "leads.decision.lead" not in merged.moved

    unmerge(merge=merged, now=LATER)
    assert rows() == before


def test_what_is_added_after_the_merge_stays_with_the_kept_lead(cast, full, kept):
    merged = merge(kept=kept, gone=full, member=cast.member, now=LATER)
    added = ContactFactory(lead=kept, name="Added since")
    full.contacts.all().delete()
    Contact.objects.filter(lead=kept).exclude(pk=added.pk).delete()

    unmerge(merge=merged, now=LATER)

    assert list(kept.contacts.all()) == [added]
    assert not full.contacts.exists()
    assert full.decisions.exists()


def test_merges_in_a_row_are_undone_from_the_last(cast, full, kept):
    third = LeadFactory(team=cast.team)
    settle(cast.team, [third.pk], now=NOW)
    before = rows()
    first = merge(kept=kept, gone=full, member=cast.member, now=LATER)
    second = merge(kept=third, gone=kept, member=cast.member, now=LATER)
    assert Lead.objects.get(pk=full.pk).kept() == third

    with pytest.raises(Refused, match="Undo that first"):
        unmerge(merge=first, now=LATER)
    unmerge(merge=second, now=LATER)
    unmerge(merge=first, now=LATER)

    assert rows() == before


def test_nonsense_is_refused_and_changes_nothing(cast, full, kept):
    other = LeadFactory(team=cast.other_team)

    with pytest.raises(Refused, match="into itself"):
        merge(kept=full, gone=full, member=cast.member, now=LATER)
    with pytest.raises(Refused, match="different teams"):
        merge(kept=full, gone=other, member=cast.member, now=LATER)
    merged = merge(kept=kept, gone=full, member=cast.member, now=LATER)
    before = rows()
    for one, two in ((kept, full), (full, kept)):
        with pytest.raises(Refused, match="merged into Alder Mill Lda"):
            merge(kept=one, gone=two, member=cast.member, now=LATER)
    assert rows() == before

    unmerge(merge=merged, now=LATER)
    before = rows()
    with pytest.raises(Refused, match="parted already"):
        unmerge(merge=merged, now=LATER)
    assert rows() == before


def test_a_fact_is_not_recorded_for_a_lead_that_is_gone(cast, full, kept):
    merge(kept=kept, gone=full, member=cast.member, now=LATER)

    with pytest.raises(Refused, match="merged into Alder Mill Lda"):
        record_decision(lead=full, member=cast.member, now=LATER, kind="engaged", day=TODAY)


def test_a_correction_opened_before_the_merge_does_not_carry_the_row_back(cast, full, kept):
    decision = full.decisions.get()
    opened = Decision.objects.get(pk=decision.pk)
    merge(kept=kept, gone=full, member=cast.member, now=LATER)
    opened.lead = kept

    with pytest.raises(Stale):
        amend_decision(decision=opened, expected_version=1, now=LATER)


def test_a_lead_logged_since_is_never_touched(cast, full, kept):
    bystander = log_lead(team=cast.team, member=cast.member, now=NOW, organisation="Elsewhere")
    DecisionFactory(lead=bystander)

    merge(kept=kept, gone=full, member=cast.member, now=LATER)

    assert bystander.decisions.count() == 1
