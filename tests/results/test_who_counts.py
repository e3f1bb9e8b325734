"""A lead enters on the day of its first held session, once."""

from datetime import date, timedelta

import pytest

from pipeline.leads.models import Lead
from tests.factories import DecisionFactory, FormatFactory, LeadFactory, SessionFactory

from .rows import AS_OF, INDEX, add_lead, counts, figures

BEFORE, AFTER = INDEX - timedelta(days=1), INDEX + timedelta(days=1)


@pytest.mark.parametrize("state", ["booked", "missed", "cancelled"])
def test_a_session_that_was_not_held_does_not_count(cast, state):
    lead = LeadFactory(team=cast.team)
    SessionFactory(lead=lead, day=INDEX, state=state)
    DecisionFactory(lead=lead, kind="engaged", day=AFTER)
    assert counts(cast.team) == {}


def test_later_sessions_do_not_enter_a_lead_twice_and_the_first_gives_the_format(cast):
    hour, half = (FormatFactory(team=cast.team, name=name) for name in ("hour", "half"))
    lead = add_lead(cast.team, format=hour)
    SessionFactory(lead=lead, day=AFTER, state="held", format=half)
    assert counts(cast.team) == {"leads_with_session": 1, "open": 1}
    assert [group.name for group in figures(cast.team).formats] == ["hour"]


def test_a_session_entered_later_but_held_earlier_is_the_first(cast):
    hour, half = (FormatFactory(team=cast.team, name=name) for name in ("hour", "half"))
    lead = add_lead(cast.team, ("declined", INDEX), format=hour)
    assert counts(cast.team) == {"leads_with_session": 1, "closed": 1}
    SessionFactory(lead=lead, day=BEFORE, state="held", format=half)
    assert [group.name for group in figures(cast.team).formats] == ["half"]


def test_of_two_sessions_held_on_the_first_day_the_one_entered_first_counts(cast):
    first, second = (FormatFactory(team=cast.team, name=name) for name in ("z", "a"))
    lead = add_lead(cast.team, format=first)
    SessionFactory(lead=lead, day=INDEX, state="held", format=second)
    assert [group.name for group in figures(cast.team).formats] == ["z"]


@pytest.mark.parametrize("kind", ["engaged", "declined", "turned away"])
def test_a_lead_that_had_decided_before_its_session_is_left_out_and_told(cast, kind):
    add_lead(cast.team, (kind, BEFORE), ("engaged", AFTER), ("no budget yet", INDEX))
    assert counts(cast.team) == {"excluded": 1}
    found = figures(cast.team)
    assert (found.formats, found.sources) == ((), ())
    assert found.delayed_return.started == 0


@pytest.mark.parametrize("kind", ["no budget yet", "gone quiet"])
def test_a_lead_that_said_neither_yes_nor_no_before_its_session_counts(cast, kind):
    add_lead(cast.team, (kind, BEFORE))
    assert counts(cast.team) == {"leads_with_session": 1, "open": 1}


@pytest.mark.parametrize("kind", ["engaged", "declined", "turned away"])
def test_a_decision_on_the_day_of_the_session_counts(cast, kind):
    add_lead(cast.team, (kind, INDEX))
    came = "engaged" if kind == "engaged" else "closed"
    assert counts(cast.team) == {"leads_with_session": 1, came: 1}


def test_a_lead_that_was_merged_into_another_does_not_count(cast):
    kept, gone = add_lead(cast.team), add_lead(cast.team, ("engaged", AFTER))
    Lead.objects.filter(pk=gone.pk).update(merged_into=kept)
    assert counts(cast.team) == {"leads_with_session": 1, "open": 1}


def test_another_teams_leads_do_not_count(cast):
    add_lead(cast.team)
    add_lead(cast.other_team, ("engaged", AFTER))
    assert counts(cast.team) == {"leads_with_session": 1, "open": 1}
    assert counts(cast.other_team) == {"leads_with_session": 1, "engaged": 1}


def test_the_stored_copy_of_the_index_day_is_not_what_is_asked(cast):
    add_lead(cast.team, index_day=AS_OF + timedelta(days=1))
    assert counts(cast.team) == {"leads_with_session": 1, "open": 1}
    LeadFactory(team=cast.team, index_day=date(2025, 1, 1))
    assert counts(cast.team) == {"leads_with_session": 1, "open": 1}
