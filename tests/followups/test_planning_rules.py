"""Which facts make the follow-ups of others needless, and what is said of it."""

import pytest

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.planning import needless, plan
from tests.followups.planning import by, fact, step

STEPS = [
    step(trigger, 5, "working days", action=trigger)
    for trigger in (
        "deliverable sent",
        "session missed",
        "proposal sent",
        "engaged",
        "no budget yet",
        "declined",
        "gone quiet",
        "turned away",
        "funding arrived",
    )
]


def wanted_of(*facts):
    return {item.action for item in plan(facts, by(STEPS), WorkCalendar())}


@pytest.mark.parametrize("kind", ["engaged", "declined", "turned away"])
def test_a_decision_that_ends_the_work_leaves_only_its_own_steps(kind):
    facts = [
        fact("deliverable sent", "2026-03-02", title="Map"),
        fact("session missed", "2026-03-03"),
        fact("proposal sent", "2026-03-03"),
        fact("no budget yet", "2026-02-02"),
        fact("funding arrived", "2026-03-03"),
        fact(kind, "2026-03-03"),
    ]
    assert wanted_of(*facts) == {kind}
    assert needless(facts[0], facts) == f"{kind} on 3 Mar 2026"


def test_what_follows_from_facts_after_the_end_stands():
    facts = [
        fact("engaged", "2026-03-03"),
        fact("deliverable sent", "2026-03-04", title="Map"),
        fact("proposal sent", "2026-03-05"),
    ]
    assert wanted_of(*facts) == {"engaged", "deliverable sent", "proposal sent"}


def test_a_lead_that_says_no_budget_after_it_declined_is_followed_again():
    facts = [fact("declined", "2026-01-05"), fact("no budget yet", "2026-03-03")]
    assert wanted_of(*facts) == {"no budget yet"}


def test_a_newer_decision_stands_in_place_of_older_ones_and_of_proposals():
    facts = [
        fact("no budget yet", "2026-01-05"),
        fact("proposal sent", "2026-02-02"),
        fact("deliverable sent", "2026-01-02", title="Map"),
        fact("gone quiet", "2026-03-03"),
    ]
    assert wanted_of(*facts) == {"gone quiet", "deliverable sent"}
    assert needless(facts[0], facts) == "followed by gone quiet on 3 Mar 2026"
    assert needless(facts[1], facts) == "followed by gone quiet on 3 Mar 2026"


def test_a_proposal_after_the_decision_stands_beside_it():
    facts = [fact("no budget yet", "2026-01-05"), fact("proposal sent", "2026-02-02")]
    assert wanted_of(*facts) == {"no budget yet", "proposal sent"}


def test_of_two_equal_decisions_only_the_newer_is_followed():
    facts = [fact("no budget yet", "2026-01-05"), fact("no budget yet", "2026-03-03")]
    (only,) = plan(facts, by(STEPS), WorkCalendar())
    assert only.fact is facts[1]


def test_of_two_decisions_on_one_day_the_one_entered_last_is_newer():
    facts = [fact("gone quiet", "2026-03-03"), fact("no budget yet", "2026-03-03")]
    assert wanted_of(*facts) == {"no budget yet"}


def test_money_that_arrived_stands_in_place_of_the_wait_for_it():
    facts = [fact("no budget yet", "2026-01-05"), fact("funding arrived", "2026-03-03")]
    assert wanted_of(*facts) == {"funding arrived"}
    assert needless(facts[0], facts) == "funding arrived on 3 Mar 2026"


def test_money_that_arrived_before_the_lead_said_there_is_none_ends_nothing():
    facts = [fact("funding arrived", "2026-01-05"), fact("no budget yet", "2026-03-03")]
    assert wanted_of(*facts) == {"no budget yet"}
    assert needless(facts[0], facts) == "followed by no budget yet on 3 Mar 2026"


def test_the_fact_is_told_in_words_with_its_day():
    assert fact("deliverable sent", "2026-03-03", title="Map").words == "Map sent on 3 Mar 2026"
    assert fact("session missed", "2026-03-03").words == "session of 3 Mar 2026 missed"
    assert fact("proposal sent", "2026-03-03").words == "proposal sent on 3 Mar 2026"
    assert fact("funding arrived", "2026-03-03").words == "funding arrived on 3 Mar 2026"
