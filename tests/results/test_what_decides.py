"""From the index day on, the first of an engagement and a close decides."""

from datetime import timedelta

import pytest

from .rows import INDEX, add_lead, counts


def on(days: int):
    return INDEX + timedelta(days=days)


@pytest.mark.parametrize(
    ("decisions", "came"),
    [
        pytest.param([], {"open": 1}, id="nothing said is open"),
        pytest.param([("engaged", 5)], {"engaged": 1}, id="engaged"),
        pytest.param([("declined", 5)], {"closed": 1}, id="declined is closed"),
        pytest.param([("turned away", 5)], {"closed": 1}, id="turned away is closed"),
        pytest.param([("no budget yet", 5)], {"open": 1}, id="no budget yet is open"),
        pytest.param([("gone quiet", 5)], {"open": 1}, id="gone quiet is open"),
        pytest.param(
            [("declined", 5), ("engaged", 5)], {"engaged": 1}, id="on the same day engaged wins"
        ),
        pytest.param(
            [("engaged", 0), ("turned away", 0)], {"engaged": 1}, id="also on the index day"
        ),
        pytest.param(
            [("engaged", 5), ("declined", 6)], {"engaged": 1}, id="engaged first, then closed"
        ),
        pytest.param(
            [("declined", 5), ("engaged", 6)],
            {"closed": 1, "reopened": 1},
            id="closed first, then engaged: closed, and told apart as reopened",
        ),
        pytest.param(
            [("declined", 5), ("turned away", 9), ("engaged", 9)],
            {"closed": 1, "reopened": 1},
            id="the first close decides, not the last",
        ),
        pytest.param(
            [("gone quiet", 1), ("no budget yet", 2), ("engaged", 300)],
            {"engaged": 1},
            id="what leaves a lead open does not decide",
        ),
        pytest.param(
            [("declined", 5), ("no budget yet", 6)], {"closed": 1}, id="closed stays closed"
        ),
    ],
)
def test_the_first_yes_or_no_decides(cast, decisions, came):
    add_lead(cast.team, *((kind, on(days)) for kind, days in decisions))
    assert counts(cast.team) == {"leads_with_session": 1, **came}


def test_every_counted_lead_is_engaged_open_or_closed(cast):
    add_lead(cast.team)
    add_lead(cast.team, ("engaged", on(3)))
    add_lead(cast.team, ("declined", on(3)))
    add_lead(cast.team, ("declined", on(3)), ("engaged", on(4)))
    add_lead(cast.team, ("declined", on(-3)))
    assert counts(cast.team) == {
        "leads_with_session": 4,
        "engaged": 1,
        "open": 1,
        "closed": 2,
        "reopened": 1,
        "excluded": 1,
    }
