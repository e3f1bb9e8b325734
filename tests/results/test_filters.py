"""Which leads the figures are about: every filter, alone and with others, and how it is said."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.http import QueryDict

from pipeline.results.cohort import Cohort
from pipeline.results.figures.results import results
from pipeline.results.filters import Filters
from pipeline.results.forms import FilterForm
from sessions.models import CrewPlace
from tests.factories import FormatFactory, SessionFactory, SourceFactory

from .rows import AS_OF, INDEX, add_lead, figures


def form(member, address: str = "") -> FilterForm:
    return FilterForm(QueryDict(address), team=member.team, member=member)


def names(cohort: Cohort) -> set[str]:
    """The organisations that count."""
    asked = cohort.ask(
        "SELECT organisation FROM counted JOIN leads_lead ON leads_lead.id = counted.lead_id"
    )
    return {name for (name,) in asked}


def let_through(member, address: str) -> set[str]:
    asked = form(member, address)
    assert asked.is_valid(), asked.errors
    return names(Cohort(member.team, AS_OF, asked.filters()))


@pytest.fixture
def three(cast):
    """Three leads that differ in everything by which leads are filtered."""
    hour, newer = (
        FormatFactory(team=cast.team, name="hour", version=version) for version in (1, 2)
    )
    half = FormatFactory(team=cast.team, name="half")
    fair = SourceFactory(team=cast.team, name="fair")
    rows = {
        "A": (hour, fair, cast.member, cast.owner, 1, "5000.000", "EUR", INDEX),
        "B": (newer, None, cast.owner, cast.member, 3, "0", "EUR", INDEX.replace(year=2024)),
        "C": (half, None, None, None, None, None, "USD", INDEX),
    }
    for name, (fmt, source, owner, facilitator, came, budget, currency, held) in rows.items():
        lead = add_lead(
            cast.team,
            organisation=name,
            format=fmt,
            source=source,
            owner=owner,
            budget_at_entry=budget and Decimal(budget),
            currency=currency,
            held=held,
        )
        session = lead.sessions.get()
        session.attendee_count = came
        session.save()
        if facilitator:
            CrewPlace.objects.create(
                team=cast.team, session=session, member=facilitator, part="facilitator"
            )
        CrewPlace.objects.create(
            team=cast.team, session=session, member=cast.reader, part="note-taker"
        )
    cast.keys = {
        "v1": hour.pk, "v2": newer.pk, "fair": fair.pk, "owner": cast.owner.pk,
        "member": cast.member.pk, "reader": cast.reader.pk,
    }  # fmt: skip
    return cast


@pytest.mark.parametrize(
    ("address", "through"),
    [
        ("", "ABC"),
        ("format=name:hour", "AB"),
        ("format=name:half", "C"),
        ("format=name:half&format=name:hour", "ABC"),
        ("format=version:{v1}", "A"),
        ("format=version:{v2}&format=name:half", "BC"),
        ("format=not-known", ""),
        ("source={fair}", "A"),
        ("source=not-known", "BC"),
        ("source=not-known&source={fair}", "ABC"),
        ("owner={owner}", "B"),
        ("owner=not-known", "C"),
        ("facilitator={owner}", "A"),
        ("facilitator={reader}", ""),
        ("facilitator=not-known", "C"),
        ("attendees=one", "A"),
        ("attendees=few", "B"),
        ("attendees=more", ""),
        ("attendees=not-known", "C"),
        ("budget=some", "A"),
        ("budget=none", "B"),
        ("budget=not-known", "C"),
        ("budget_from=5000", "A"),
        ("budget_from=5000.001", ""),
        ("budget_from=0", "AB"),
        ("year=2024", "B"),
        ("year=2025", "AC"),
        ("year=9999", ""),
        ("versions_apart=on", "ABC"),
        ("year=2025&source=not-known", "C"),
        ("format=name:hour&owner={member}&budget_from=1", "A"),
    ],
)
def test_each_filter_lets_through_what_it_names(three, address, through):
    assert let_through(three.owner, address.format(**three.keys)) == set(through)


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("", ""),
        ("versions_apart=on", ""),
        ("format=name:hour&format=version:{v2}", "format hour or hour (version 2 only)"),
        ("format=not-known", "format not known"),
        ("source={fair}&owner={member}", "source fair; owner Mateus Coelho"),
        ("facilitator={owner}", "facilitator Olive Brandt"),
        ("attendees=few", "two or three people at the session"),
        ("attendees=not-known", "not known how many came to the session"),
        ("budget=none", "no budget at entry"),
        ("budget_from=5000", "a budget at entry of 5,000.00 EUR or more"),
        ("year=2025", "first held in 2025"),
    ],
)
def test_what_is_filtered_is_said(three, address, words):
    asked = form(three.owner, address.format(**three.keys))
    assert asked.is_valid()
    assert asked.filters().in_words == words
    assert bool(asked.filters()) == bool(words)


@pytest.mark.parametrize(
    ("address", "field"),
    [
        ("format=name:nobody", "format"),
        ("format=version:0", "format"),
        ("format=hour", "format"),
        ("source=x", "source"),
        ("owner=999999999999999999999", "owner"),
        ("attendees=7", "attendees"),
        ("budget=maybe", "budget"),
        ("budget_from=much", "budget_from"),
        ("budget_from=-1", "budget_from"),
        ("budget_from=NaN", "budget_from"),
        ("budget_from=1e400", "budget_from"),
        ("year=0", "year"),
        ("year=10000", "year"),
        ("year=last", "year"),
        ("as_of=2026-02-30", "as_of"),
    ],
)
def test_what_cannot_be_filtered_by_is_named(three, address, field):
    assert list(form(three.owner, address).errors) == [field]


def test_only_owners_narrow_the_figures_to_one_facilitator(three):
    """For others the field is not there, and an address that names it narrows nothing."""
    address = f"facilitator={three.owner.pk}"
    for member in (three.member, three.reader):
        assert "facilitator" not in form(member).fields
        assert let_through(member, address) == {"A", "B", "C"}


def test_another_teams_rows_are_not_offered(three):
    asked = form(three.other_owner, f"source={three.keys['fair']}")
    assert list(asked.errors) == ["source"]
    assert [label for _, label in asked.fields["owner"].choices] == [
        "any", "Quin Abara", "nobody"
    ]  # fmt: skip


def test_versions_of_a_format_are_together_or_apart(three):
    together = figures(three.team).formats
    assert [(group.name, group.leads_with_session) for group in together] == [
        ("half", 1), ("hour", 2)
    ]  # fmt: skip
    apart = figures(three.team, versions_apart=True).formats
    assert [(group.name, group.leads_with_session) for group in apart] == [
        ("half (version 1)", 1), ("hour (version 1)", 1), ("hour (version 2)", 1)
    ]  # fmt: skip


def test_people_who_came_are_grouped_in_order_of_their_number(three):
    add_lead(three.team)
    SessionFactory(
        lead=add_lead(three.team), day=INDEX - timedelta(days=1), state="held", attendee_count=12
    )
    found = results(Cohort(three.team, AS_OF)).by_attendees.groups
    assert [(group.name, group.leads_with_session) for group in found] == [
        ("one person", 1), ("two or three people", 1), ("four people or more", 1), (None, 2)
    ]  # fmt: skip


def test_leads_left_out_are_filtered_too(three):
    add_lead(three.team, ("declined", date(2023, 1, 1)), held=date(2024, 5, 5))
    assert figures(three.team).excluded == 1
    assert figures(three.team, year=2024).excluded == 1
    assert figures(three.team, year=2025).excluded == 0


def test_a_filter_reaches_every_figure(three):
    add_lead(
        three.team, ("no budget yet", INDEX), ("engaged", INDEX), organisation="D", held=INDEX
    )
    told = figures(three.team, year=2024)
    assert told.overall.leads_with_session == 1
    assert told.delayed_return.started == 0
    assert told.return_share.engaged == 0
    assert told.earned.returns == ()
    told = figures(three.team, year=2025)
    assert told.overall.leads_with_session == 3
    assert told.delayed_return.started == told.return_share.engaged == 1
    assert len(told.earned.returns) == 1


def test_amounts_are_compared_to_the_last_digit(cast):
    add_lead(cast.team, budget_at_entry=Decimal("99999999999.998"), currency="EUR")
    for least, count in (("99999999999.998", 1), ("99999999999.999", 0)):
        chosen = Filters(budget_from=Decimal(least), currency="EUR")
        assert len(Cohort(cast.team, AS_OF, chosen).ask("SELECT lead_id FROM counted")) == count
