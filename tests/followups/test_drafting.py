"""The draft of a letter: the plan's words, with what is known filled in and the rest named."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.followups.drafting import Draft, draft_for, fill, to_mend
from pipeline.followups.letter_words import FILLED_IN
from tests.conftest import NOW
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    FollowUpFactory,
    LeadFactory,
    PlanEditionFactory,
    PlanStepFactory,
    SessionFactory,
)

EVERY_WORD = "{first name}, {organisation}, {my name}, {session day}, {expected money}"


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Fernwick Library")


@pytest.fixture
def ana(lead):
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


@pytest.fixture
def asked(cast, lead, ana):
    """Return a function that drafts a letter for a follow-up of the plan's step."""

    def draft(text=EVERY_WORD, key="no budget yet|2026-02-03||1|2", contact=ana, **step):
        if text:
            step |= {"letter_subject": "About {organisation}", "letter_text": text}
        PlanStepFactory(
            **{"edition__team": cast.team, "trigger": "no budget yet", "position": 1} | step
        )
        row = FollowUpFactory.build(lead=lead, key=key)
        return draft_for(lead=lead, contact=contact, member=cast.member, follow_up=row)

    return draft


def test_every_word_is_filled_in_from_what_is_known(lead, asked):
    SessionFactory(lead=lead, state="held", day=date(2026, 1, 9))
    SessionFactory(lead=lead, state="booked", day=date(2026, 4, 1))
    DecisionFactory(lead=lead, day=date(2026, 2, 3), funding_expected_on=date(2026, 9, 1))
    assert asked() == Draft(
        "About Fernwick Library",
        "Ana, Fernwick Library, Mateus Coelho, 9 January 2026, September 2026",
    )


def test_money_expected_on_a_day_is_told_with_its_day(lead, asked):
    DecisionFactory(
        lead=lead,
        day=date(2026, 2, 3),
        funding_expected_on=date(2026, 9, 14),
        expected_by_month=False,
    )
    assert asked("By {expected money}").text == "By 14 September 2026"


def test_after_a_missed_session_its_own_day_is_told(lead, asked):
    SessionFactory(lead=lead, state="held", day=date(2026, 2, 9))
    drafted = asked(
        "We missed you on {session day}.",
        key="session missed|2026-03-02||1|1",
        trigger="session missed",
    )
    assert drafted.text == "We missed you on 2 March 2026."


def test_what_is_not_known_stays_open_and_is_named(lead, asked):
    nameless = ContactFactory(lead=lead, name="")
    drafted = asked(contact=nameless)
    assert drafted.text == (
        "{first name}, Fernwick Library, Mateus Coelho, {session day}, {expected money}"
    )
    assert to_mend(drafted.text) == [
        "{first name} stands open: their name is not noted. Write it yourself.",
        "{session day} stands open: no session was held. Write it yourself.",
        "{expected money} stands open: it is not noted when they expect money. Write it yourself.",
    ]


def test_an_unknown_word_and_a_brace_alone_are_named():
    assert "{price}" in to_mend("It costs {price}.")[0]
    assert "stands alone" in to_mend("A {brace")[0]
    assert to_mend("Nothing open.") == []


def test_the_step_of_the_newest_edition_counts(cast, lead, ana, asked):
    asked("The old words.", edition=PlanEditionFactory(team=cast.team))
    newer = PlanEditionFactory(team=cast.team, number=2, made_at=NOW)
    assert asked("The new words.", edition=newer).text == "The new words."


def test_a_step_without_a_letter_one_that_is_gone_and_one_by_hand_draft_nothing(
    cast, lead, ana, asked
):
    assert asked("") == Draft()
    gone = FollowUpFactory(lead=lead, key="no budget yet|2026-02-03||9|1")
    for row in (gone, FollowUpFactory(lead=lead), None):
        made = draft_for(lead=lead, contact=ana, member=cast.member, follow_up=row)
        assert made == Draft()


@given(st.lists(st.sampled_from(["a word ", *(f"{{{name}}} " for name in FILLED_IN)])))
def test_what_is_filled_in_or_named_leaves_no_brace_unsaid(parts):
    """Filling in all but one word leaves exactly that one to be mended, where it stood."""
    text = "".join(parts)
    known = {name: "known" for name in FILLED_IN if name != "session day"}
    filled = fill(text, known)
    assert ("{" in filled) == ("{session day}" in text)
    assert bool(to_mend(filled)) == ("{session day}" in text)
    assert fill(filled, known) == filled
