"""Logging a lead: an organisation is enough."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from pipeline.leads.entry import log_lead, source_named
from pipeline.leads.models import Lead, Source, Standing
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import LeadFactory, SourceFactory


def test_an_organisation_is_enough_and_whoever_logs_it_looks_after_it(cast):
    lead = log_lead(team=cast.team, member=cast.member, now=NOW, organisation="Alder Mill")

    assert lead.owner == cast.member
    assert lead.currency == "EUR"
    assert lead.standing == Standing.ENQUIRY
    assert not lead.contacts.exists()


def test_a_first_contact_and_a_source_are_stored_with_it(cast):
    lead = log_lead(
        team=cast.team,
        member=cast.member,
        now=NOW,
        organisation="Alder Mill",
        contact_name="Ines Faro",
        contact_email="ines@alder.example",
        source="trade fair",
        enquired_on=TODAY,
    )

    assert [(c.name, c.email, c.team) for c in lead.contacts.all()] == [
        ("Ines Faro", "ines@alder.example", cast.team)
    ]
    assert lead.source.name == "trade fair"
    assert lead.standing_since == TODAY


def test_the_rest_is_taken_as_named(cast):
    lead = log_lead(
        team=cast.team,
        member=cast.member,
        now=NOW,
        organisation="Alder Mill",
        owner=None,
        expected_fee=Decimal("12500.50"),
        currency="GBP",
        reference="A-17",
    )

    assert (lead.owner, lead.expected_fee, lead.currency, lead.reference) == (
        None,
        Decimal("12500.50"),
        "GBP",
        "A-17",
    )


def test_a_known_source_is_found_whatever_its_case_and_spaces(cast):
    known = SourceFactory(team=cast.team, name="Trade fair")
    SourceFactory(team=cast.other_team, name="trade fair")

    assert source_named(cast.team, "  trade   FAIR ") == known
    assert source_named(cast.team, "   ") is None
    assert Source.objects.for_team(cast.team).count() == 1


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"enquired_on": TODAY + timedelta(days=1)}, "enquired_on"),
        ({"enquired_on": date.max}, "enquired_on"),
        ({"followed_since": TODAY + timedelta(days=1)}, "followed_since"),
        ({"expected_fee": Decimal("-1")}, "expected_fee"),
        ({"budget_at_entry": Decimal("-0.01")}, "budget_at_entry"),
        ({"currency": "XXZ"}, "currency"),
        ({"reference": "taken"}, "reference"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(cast, given, field):
    LeadFactory(team=cast.team, reference="taken")
    if field == "currency":
        given = {**given, "expected_fee": Decimal(1)}

    with pytest.raises(Refused) as refused:
        log_lead(
            team=cast.team,
            member=cast.member,
            now=NOW,
            organisation="Alder Mill",
            contact_name="Ines Faro",
            source="new one",
            **given,
        )

    assert refused.value.field == field
    assert Lead.objects.count() == 1
    assert not Source.objects.exists()


def test_the_same_reference_in_another_team_is_another_lead(cast):
    LeadFactory(team=cast.other_team, reference="A-17")

    log_lead(team=cast.team, member=None, now=NOW, organisation="Alder Mill", reference="A-17")

    assert Lead.objects.filter(reference="A-17").count() == 2
