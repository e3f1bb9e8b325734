"""Where a lead is, as a pure function of its facts and a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.leads.models import DecisionKind, Standing
from sessions.models import State
from sessions.standing import Computed, Facts, compute

JAN, FEB, MAR, APR = (date(2026, month, 10) for month in (1, 2, 3, 4))
TODAY = date(2026, 6, 1)
HELD, BOOKED = State.HELD, State.BOOKED


def standing(day: date = TODAY, **facts) -> tuple[str, date | None]:
    """Return standing and day of it for a lead that enquired on New Year's Day."""
    found = compute(Facts(enquired_on=date(2026, 1, 1), **facts), day)
    return found.standing, found.since


def held(day: date, pk: int = 1) -> tuple[date, str, int, int]:
    return (day, HELD, pk, 7)


EXAMPLES = {
    "nothing but an enquiry": ({}, (Standing.ENQUIRY, date(2026, 1, 1))),
    "a session is booked": (
        {"sessions": [(date(2026, 7, 1), BOOKED, 1, 7)]},
        (Standing.BOOKED, date(2026, 7, 1)),
    ),
    "a session was missed": (
        {"sessions": [(JAN, State.MISSED, 1, 7)]},
        (Standing.ENQUIRY, date(2026, 1, 1)),
    ),
    "a session was cancelled": (
        {"sessions": [(JAN, State.CANCELLED, 1, 7)]},
        (Standing.ENQUIRY, date(2026, 1, 1)),
    ),
    "a session was held, and nothing promised": ({"sessions": [held(JAN)]}, (Standing.HELD, JAN)),
    "its takeaway is owed": (
        {"sessions": [held(JAN)], "deliverables": [(1, None, None)]},
        (Standing.OWED, JAN),
    ),
    "its takeaway was sent": (
        {"sessions": [held(JAN)], "deliverables": [(1, FEB, None)]},
        (Standing.HELD, JAN),
    ),
    "its takeaway was waived": (
        {"sessions": [held(JAN)], "deliverables": [(1, None, FEB)]},
        (Standing.HELD, JAN),
    ),
    "one of two is owed": (
        {"sessions": [held(JAN)], "deliverables": [(1, FEB, None), (1, None, None)]},
        (Standing.OWED, JAN),
    ),
    "something is owed of a session that is not known": (
        {"deliverables": [(None, None, None)]},
        (Standing.OWED, None),
    ),
    "a proposal went out after the session": (
        {"sessions": [held(JAN)], "proposals": [FEB], "deliverables": [(1, None, None)]},
        (Standing.PROPOSAL, FEB),
    ),
    "engaged": ({"decisions": [(FEB, DecisionKind.ENGAGED)]}, (Standing.ENGAGED, FEB)),
    "declined": ({"decisions": [(FEB, DecisionKind.DECLINED)]}, (Standing.DECLINED, FEB)),
    "gone quiet": ({"decisions": [(FEB, DecisionKind.QUIET)]}, (Standing.QUIET, FEB)),
    "turned away": ({"decisions": [(FEB, DecisionKind.TURNED_AWAY)]}, (Standing.TURNED_AWAY, FEB)),
    "no budget yet": ({"decisions": [(FEB, DecisionKind.NO_BUDGET)]}, (Standing.WAITING, FEB)),
    "money arrived since": (
        {"decisions": [(FEB, DecisionKind.NO_BUDGET)], "fundings": [MAR]},
        (Standing.FUNDED, MAR),
    ),
    "money arrived on the very day": (
        {"decisions": [(FEB, DecisionKind.NO_BUDGET)], "fundings": [FEB]},
        (Standing.FUNDED, FEB),
    ),
    "money arrived before, and there is none again": (
        {"decisions": [(MAR, DecisionKind.NO_BUDGET)], "fundings": [FEB]},
        (Standing.WAITING, MAR),
    ),
    "no budget said twice: waiting since the first time": (
        {"decisions": [(JAN, DecisionKind.NO_BUDGET), (MAR, DecisionKind.NO_BUDGET)]},
        (Standing.WAITING, JAN),
    ),
    "no budget, money, no budget: waiting since the money was gone": (
        {
            "decisions": [(JAN, DecisionKind.NO_BUDGET), (MAR, DecisionKind.NO_BUDGET)],
            "fundings": [FEB],
        },
        (Standing.WAITING, MAR),
    ),
    "no budget, declined, no budget: waiting since the last": (
        {
            "decisions": [
                (JAN, DecisionKind.NO_BUDGET),
                (FEB, DecisionKind.DECLINED),
                (MAR, DecisionKind.NO_BUDGET),
            ]
        },
        (Standing.WAITING, MAR),
    ),
    "a return": (
        {
            "decisions": [(JAN, DecisionKind.NO_BUDGET), (MAR, DecisionKind.ENGAGED)],
            "fundings": [FEB],
        },
        (Standing.ENGAGED, MAR),
    ),
    "quiet, then a new session": (
        {"decisions": [(JAN, DecisionKind.QUIET)], "sessions": [(FEB, BOOKED, 1, 7)]},
        (Standing.BOOKED, FEB),
    ),
    "quiet, then a session was missed": (
        {"decisions": [(JAN, DecisionKind.QUIET)], "sessions": [(FEB, State.MISSED, 1, 7)]},
        (Standing.QUIET, JAN),
    ),
    "declined, then a proposal": (
        {"decisions": [(JAN, DecisionKind.DECLINED)], "proposals": [FEB]},
        (Standing.PROPOSAL, FEB),
    ),
    "an old proposal says nothing after a decision and a newer session": (
        {
            "proposals": [JAN],
            "decisions": [(FEB, DecisionKind.QUIET)],
            "sessions": [held(MAR)],
        },
        (Standing.HELD, MAR),
    ),
    "what an older session owes says nothing after a decision and a newer session": (
        {
            "sessions": [held(JAN, 1), held(MAR, 2)],
            "deliverables": [(1, None, None), (2, APR, None)],
            "decisions": [(FEB, DecisionKind.QUIET)],
        },
        (Standing.HELD, MAR),
    ),
    "a session on the day of the decision is not newer": (
        {"decisions": [(JAN, DecisionKind.NO_BUDGET)], "sessions": [held(JAN)]},
        (Standing.WAITING, JAN),
    ),
    "on one day engaged outweighs no budget yet": (
        {"decisions": [(JAN, DecisionKind.ENGAGED), (JAN, DecisionKind.NO_BUDGET)]},
        (Standing.ENGAGED, JAN),
    ),
    "on one day declined outweighs gone quiet": (
        {"decisions": [(JAN, DecisionKind.DECLINED), (JAN, DecisionKind.QUIET)]},
        (Standing.DECLINED, JAN),
    ),
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_standing_follows_from_the_facts(name):
    facts, expected = EXAMPLES[name]
    assert standing(**facts) == expected


def test_every_standing_has_an_example():
    assert {expected[0] for _, expected in EXAMPLES.values()} == set(Standing)


def test_the_index_session_is_the_first_that_was_held():
    facts = Facts(sessions=[(MAR, HELD, 2, 8), (FEB, HELD, 3, 9), (JAN, State.MISSED, 1, 7)])
    found = compute(facts, TODAY)
    assert (found.index_day, found.index_format) == (FEB, 9)


def test_as_of_an_earlier_day_the_lead_is_where_it_was_then():
    facts = Facts(
        sessions=[held(JAN)],
        deliverables=[(1, FEB, None)],
        decisions=[(MAR, DecisionKind.NO_BUDGET)],
        fundings=[APR],
    )
    day_before = timedelta(days=1)
    assert [compute(facts, day).standing for day in (JAN, FEB, MAR, APR)] == [
        Standing.OWED,
        Standing.HELD,
        Standing.WAITING,
        Standing.FUNDED,
    ]
    assert compute(facts, JAN - day_before) == Computed(Standing.ENQUIRY, None)


days = st.dates(date(2026, 1, 1), date(2026, 1, 20))
maybe = st.none() | days
keys = st.sampled_from([None, 1, 2, 3])
facts = st.builds(
    Facts,
    enquired_on=maybe,
    decisions=st.lists(st.tuples(days, st.sampled_from(list(DecisionKind))), max_size=5),
    fundings=st.lists(days, max_size=3),
    proposals=st.lists(days, max_size=3),
    sessions=st.lists(
        st.tuples(days, st.sampled_from(list(State)), st.integers(1, 3), st.integers(7, 9)),
        max_size=3,
        unique_by=lambda session: session[2],
    ),
    deliverables=st.lists(
        st.tuples(keys, days, st.none()) | st.tuples(keys, st.none(), maybe), max_size=4
    ),
)

LISTS = ("decisions", "fundings", "proposals", "sessions", "deliverables")


@given(facts, days, st.randoms(use_true_random=False))
def test_the_order_in_which_facts_were_entered_does_not_matter(known, day, chance):
    shuffled = replace(known, **{name: list(getattr(known, name)) for name in LISTS})
    for name in LISTS:
        chance.shuffle(getattr(shuffled, name))
    assert compute(shuffled, day) == compute(known, day)


@given(facts, days)
def test_facts_of_later_days_do_not_matter(known, day):
    seen = Facts(
        enquired_on=known.enquired_on,
        decisions=[row for row in known.decisions if row[0] <= day],
        fundings=[d for d in known.fundings if d <= day],
        proposals=[d for d in known.proposals if d <= day],
        # a booking is known before its day
        sessions=[s for s in known.sessions if s[0] <= day or s[1] == BOOKED],
        # of what is sent or waived later only that it is promised is known
        deliverables=[
            (
                key,
                sent if sent and sent <= day else None,
                waived if waived and waived <= day else None,
            )
            for key, sent, waived in known.deliverables
        ],
    )
    assert compute(seen, day) == compute(known, day)


@given(facts, days)
def test_the_newest_decision_stands_unless_something_newer_came(known, day):
    decided = [d for d, _ in known.decisions if d <= day]
    if not decided:
        assert compute(known, day).standing not in (
            Standing.ENGAGED,
            Standing.DECLINED,
            Standing.TURNED_AWAY,
            Standing.QUIET,
            Standing.WAITING,
            Standing.FUNDED,
        )
        return
    newest = max(decided)
    newer = [d for d in known.proposals if newest < d <= day]
    newer += [d for d, state, *_ in known.sessions if state == HELD and newest < d <= day]
    newer += [d for d, state, *_ in known.sessions if state == BOOKED and newest < d]
    open_again = compute(known, day).standing in (
        Standing.PROPOSAL,
        Standing.OWED,
        Standing.HELD,
        Standing.BOOKED,
    )
    assert open_again is bool(newer)


@given(facts, days)
def test_the_day_of_a_standing_never_lies_ahead_but_for_a_booking(known, day):
    found = compute(known, day)
    if found.since is not None and found.standing not in (Standing.BOOKED, Standing.ENQUIRY):
        assert found.since <= day
    assert found.index_day is None or found.index_day <= day
