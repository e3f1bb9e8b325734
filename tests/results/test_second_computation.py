"""The figures against a second computation, written from the definitions with exact fractions.

It shares no step with the program: it walks through each lead's history day by day, and the
curve through its days, in `Fraction`s; roots and exponents come last.
"""

from __future__ import annotations

import math
from datetime import date, timedelta
from fractions import Fraction
from statistics import NormalDist

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from pipeline.leads.models import Decision, Lead, Source
from pipeline.results.cohort import Cohort
from pipeline.results.figures.results import results
from pipeline.teams.models import Team
from sessions.models import DiscoverySession, Format
from tests.conftest import NOW

FIRST = date(2024, 1, 1)
KINDS = ("engaged", "declined", "turned away", "no budget yet", "gone quiet")
NAMES = ("half", "Hour", None)
HORIZONS = (90, 180, 365, 730)
SESSION_HORIZONS = (30, 90, 180, 365)

# Few distinct days, so that many facts meet on one; a spread that reaches every horizon.
days = st.sampled_from([0, 1, 2, 91, 92, 181, 366, 731])
session = st.tuples(days, st.sampled_from(["held", "held", "booked", "missed"]), st.integers(0, 2))
lead = st.fixed_dictionaries(
    {
        "sessions": st.lists(session, min_size=1, max_size=3),
        # What was said on a day: often several things at once.
        "said": st.dictionaries(
            days, st.sets(st.sampled_from(KINDS), min_size=1, max_size=3), min_size=1, max_size=4
        ),
        "source": st.integers(0, 2),
        "followed": st.none() | days,
    }
)
teams = st.integers(0, 12).flatmap(lambda size: st.lists(lead, min_size=size, max_size=size))


def history_of(lead, today):
    """(index day, format, outcome, wait, reopened, stay) of one lead, walking from day to day.

    Wait and stay are (days, cause, late entry): since "no budget yet", and since the session.
    """
    held = [
        (day, place, fmt)
        for place, (day, state, fmt) in enumerate(lead["sessions"])
        if state == "held" and day <= today
    ]
    if not held:
        return None
    index, _, fmt = min(held)
    outcome, began, wait, reopened, stay = "open", None, None, False, (today - index, 0, 0)
    for day in range(today + 1):
        said = lead["said"].get(day, set())
        yes, no = "engaged" in said, bool(said & {"declined", "turned away"})
        if day < index and (yes or no):
            return index, NAMES[fmt], "excluded", None, False, None
        if day < index:
            continue
        if "no budget yet" in said and began is None and outcome == "open":
            began = day
        if outcome == "open" and (yes or no):
            outcome = "engaged" if yes else "closed"
            stay = (day - index, 1 if yes else 2, 0)
            if began is not None:
                wait = (day - began, 1 if yes else 2)
        elif outcome == "closed" and yes:
            reopened = True
    if began is not None and wait is None:
        wait = (today - began, 0)
    if wait is not None:
        late = max(0, lead["followed"] - began) if lead["followed"] is not None else 0
        wait = (*wait, late)
    return index, NAMES[fmt], outcome, wait, reopened, stay


def exact_incidence(waits, horizon, own=1):
    """(estimate, variance, at risk) by the definition; an estimate of None where not told."""

    def risk(day):
        return sum(time >= day and (late < day or late == 0) for time, _, late in waits)

    survival, shares, path = Fraction(1), Fraction(0), []
    for day in range(horizon + 1):
        watched = risk(day)
        leaving = [
            cause for time, cause, late in waits if time == day and (late < day or late == 0)
        ]
        mine, gone = leaving.count(own), len(leaving) - leaving.count(0)
        if gone:
            before = survival
            shares += before * Fraction(mine, watched)
            survival *= 1 - Fraction(gone, watched)
            path.append((watched, mine, gone, before, shares))
    if risk(horizon) == 0 and survival != 0:
        return None, None, 0
    variance = Fraction(0)
    for watched, mine, gone, before, then in path:
        ahead = shares - then
        if watched > gone:
            variance += ahead**2 * Fraction(gone, watched * (watched - gone))
        variance += before**2 * Fraction(mine * (watched - mine), watched**3)
        variance -= 2 * ahead * before * Fraction(mine, watched**2)
    return shares, variance, risk(horizon)


def expected_interval(share, variance):
    if share in (0, 1):
        return None, None
    f, z = float(share), NormalDist().inv_cdf(0.975)
    width = z * math.sqrt(variance) / (f * math.log(f))
    ends = sorted(math.exp(math.log(f) * math.exp(sign * width)) for sign in (1, -1))
    return ends[0], ends[1]


def exact_survival(waits, through):
    """The share that has left for no cause by the end of a day."""
    survival = Fraction(1)
    for day in range(through + 1):
        watched = sum(time >= day and (late < day or late == 0) for time, _, late in waits)
        leaving = sum(time == day and bool(cause) for time, cause, _ in waits)
        if leaving:
            survival *= 1 - Fraction(leaving, watched)
    return survival


def effective_size(waits, horizon, share, variance):
    """How many followed to the end would tell as much; for those watched from the start."""
    if share == 0:
        ended = [day for day in range(horizon + 1) if exact_survival(waits, day) == 0]
        until = ended[0] if ended else horizon
        watched = sum(time >= until for time, _, _ in waits)
        return float(watched / (exact_survival(waits, until - 1) if until else 1))
    if share == 1:
        return sum(cause == 1 for _, cause, _ in waits)
    return float(share * (1 - share) / variance)


def exact_mean_lost(waits, cause, until):
    """The area under the incidence up to `until`: each step counts from its day on."""
    area, before = Fraction(0), Fraction(0)
    for day in sorted({time for time, _, _ in waits if time < until}):
        share = exact_incidence(waits, day, cause)[0]
        area, before = area + (share - before) * (until - day), share
    return area


def roots_of_the_score(part, whole):
    """Wilson's limits as the two roots of (p - share)² = z² p(1 - p)/n, by bisection."""
    share, z = float(part / whole), NormalDist().inv_cdf(0.975)

    def outside(p):
        return (p - share) ** 2 > z * z * p * (1 - p) / whole

    def edge(inner, outer):
        for _ in range(80):
            middle = (inner + outer) / 2
            inner, outer = (inner, middle) if outside(middle) else (middle, outer)
        return inner

    return (edge(share, 0.0) if part else 0.0), (edge(share, 1.0) if part < whole else 1.0)


class AgainstFractions(TestCase):
    @settings(
        max_examples=60,
        deadline=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
    @given(leads=teams, today=st.sampled_from([1, 91, 180, 400, 731, 800]))
    def test_all_figures_are_those_of_the_definitions(self, leads, today):
        team = Team.objects.create(name="Fractions", slug="fractions")
        store(team, leads)
        as_of = FIRST + timedelta(days=today)
        found = results(Cohort(team, as_of))

        histories = [(lead, told) for lead in leads if (told := history_of(lead, today))]
        counted = [(lead, told) for lead, told in histories if told[2] != "excluded"]
        assert found.excluded == len(histories) - len(counted)
        check_group(found.overall, [told for _, told in counted])
        for groups, name_of in (
            (found.formats, lambda lead, told: told[1]),
            (found.sources, lambda lead, told: NAMES[lead["source"]]),
        ):
            names = ("Hour", "half", None)
            by_name = {
                name: [told for lead, told in counted if name_of(lead, told) == name]
                for name in names
            }
            assert [group.name for group in groups] == [name for name in names if by_name[name]]
            for group in groups:
                check_group(group, by_name[group.name])
        check_return(found.delayed_return, [told[3] for _, told in counted if told[3]])
        assert found.return_share.engaged == found.overall.engaged
        assert found.return_share.returned == found.delayed_return.returned


def store(team, leads):
    formats = [Format.objects.create(team=team, name=name) for name in NAMES if name]
    sources = [Source.objects.create(team=team, name=name) for name in NAMES if name]
    formats, sources = [*formats, None], [*sources, None]
    on = [FIRST + timedelta(days=day) for day in range(801)]
    for number, lead in enumerate(leads):
        row = Lead.objects.create(
            team=team,
            organisation=f"lead {number}",
            currency="EUR",
            created_at=NOW,
            source=sources[lead["source"]],
            followed_since=None if lead["followed"] is None else on[lead["followed"]],
        )
        common = {"team": team, "lead": row, "recorded_at": NOW}
        for day, state, fmt in lead["sessions"]:
            DiscoverySession.objects.create(
                **common, day=on[day], state=state, format=formats[fmt]
            )
        Decision.objects.bulk_create(
            Decision(**common, day=on[day], kind=kind)
            for day, kinds in lead["said"].items()
            for kind in sorted(kinds)
        )


def check_group(group, told):
    outcomes = [outcome for _, _, outcome, *_ in told]
    assert group.leads_with_session == len(told)
    for name in ("engaged", "open", "closed"):
        assert getattr(group, name) == outcomes.count(name)
    assert group.reopened == sum(reopened for *_, reopened, _ in told)
    check_within(group, [stay for *_, stay in told])
    rate = group.conversion
    if not told:
        assert (rate.estimate, rate.low, rate.high) == (None, None, None)
        return
    assert rate.estimate == pytest.approx(outcomes.count("engaged") / len(told), abs=1e-15)
    assert (rate.low, rate.high) == pytest.approx(
        roots_of_the_score(outcomes.count("engaged"), len(told)), abs=1e-12
    )


def check_within(group, stays):
    for point, horizon in zip(group.within, SESSION_HORIZONS, strict=True):
        share, variance, at_risk = exact_incidence(stays, horizon)
        assert (point.days, point.at_risk) == (horizon, at_risk)
        if share is None:
            assert (point.estimate, point.se, point.low, point.high) == (None,) * 4
            continue
        assert point.estimate == pytest.approx(float(share), abs=1e-12)
        assert point.se == pytest.approx(math.sqrt(variance), abs=1e-9)
        size = effective_size(stays, horizon, share, variance)
        limits = roots_of_the_score(float(share) * size, size)
        assert (point.low, point.high) == pytest.approx(limits, abs=1e-7)


def check_mean(mean, waits):
    told = [days for days in HORIZONS if waits and exact_incidence(waits, days)[0] is not None]
    if not told:
        assert mean is None
        return
    until = told[-1]
    returned, closed = (exact_mean_lost(waits, cause, until) for cause in (1, 2))
    assert mean.until == until
    assert mean.returned.estimate == pytest.approx(float(returned), abs=1e-9)
    assert mean.closed.estimate == pytest.approx(float(closed), abs=1e-9)
    assert mean.waiting.estimate == pytest.approx(float(until - returned - closed), abs=1e-9)


def check_return(delayed, waits):
    causes = [cause for _, cause, _ in waits]
    assert delayed.started == len(waits)
    assert (delayed.waiting, delayed.returned, delayed.closed) == tuple(
        causes.count(cause) for cause in (0, 1, 2)
    )
    seen = [(time, cause, late) for time, cause, late in waits if late == 0 or late < time]
    check_mean(delayed.mean, seen)
    for point, horizon in zip(delayed.incidence, HORIZONS, strict=True):
        share, variance, at_risk = exact_incidence(seen, horizon)
        assert (point.days, point.at_risk) == (horizon, at_risk)
        if share is None:
            assert (point.estimate, point.se, point.low, point.high) == (None,) * 4
            continue
        assert point.estimate == pytest.approx(float(share), abs=1e-12)
        assert point.se == pytest.approx(math.sqrt(variance), abs=1e-9)
        low, high = expected_interval(share, variance)
        if low is None:
            assert (point.low, point.high) == (None, None)
        else:
            assert (point.low, point.high) == pytest.approx((low, high), abs=1e-7)
