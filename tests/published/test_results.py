"""Published curves and intervals, told by the whole path: rows in the database to figures.

The figures are read 90, 180, 365 and 730 days after the start. An Aalen-Johansen curve depends on
the order of the days alone, so each published time is moved, in order, to where four of the
published ones fall on those days.
"""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from pipeline.leads.models import Decision, Lead
from pipeline.results.cohort import Cohort
from pipeline.results.figures.readings import IncidenceAt
from pipeline.results.figures.results import results
from sessions.models import DiscoverySession
from tests.conftest import NOW

from .checks import checks, rows

AS_OF = date(2026, 3, 3)
DECIDED = {1: "engaged", 2: "declined"}


def months_to_days(month: int) -> int:
    """In order, with 60, 120, 180 and 240 on 90, 180, 365 and 730."""
    steps = ((60, 30), (120, 60), (180, 185), (10_000, 490))
    return month + next(shift for until, shift in steps if month <= until)


def tiny_to_days(time: int) -> int:
    """In order, with 6, 8, 9 and 12 on 90, 180, 365 and 730; 0 stays."""
    return {0: 0, 2: 20, 3: 30, 4: 40, 5: 50, 6: 90, 7: 100, 8: 180, 9: 365}.get(
        time, 730 - 100 * (12 - time)
    )


def load(team, table: list[dict[str, str]], moved: Callable[[int], int], cause: str) -> None:
    """Each row becomes a lead that said "no budget yet" on the day of its session."""
    leads, sessions, decisions = [], [], []
    for row in table:
        time = timedelta(days=moved(int(row.get("time") or row["etime"])))
        start, why = AS_OF - time, int(row[cause])
        lead = Lead(team=team, organisation=row["id"], currency="EUR", created_at=NOW)
        if int(row.get("entry", 0)):
            lead.followed_since = start + timedelta(days=moved(int(row["entry"])))
        leads.append(lead)
        common = {"team": team, "lead": lead, "recorded_at": NOW}
        sessions.append(DiscoverySession(**common, day=start, state="held"))
        decisions.append(Decision(**common, day=start, kind="no budget yet"))
        if why:
            decisions.append(Decision(**common, day=AS_OF, kind=DECIDED[why]))
    Lead.objects.bulk_create(leads)
    DiscoverySession.objects.bulk_create(sessions)
    Decision.objects.bulk_create(decisions)


def told(team) -> tuple[IncidenceAt, ...]:
    return results(Cohort(team, AS_OF)).delayed_return.incidence


def test_the_curve_of_mgus2(cast):
    """1384 people of R's survival::mgus2 (Kyle et al., NEJM 2002;346:564-569)."""
    (check,) = [check for check in checks("aalen_johansen") if check["id"] == "aj_mgus2"]
    load(cast.team, rows(check["input"]["csv"]), months_to_days, "ev")
    expected = check["expected"]
    for point, month in zip(told(cast.team), (60, 120, 180, 240), strict=True):
        column = expected["t"].index(month)
        assert point.at_risk == expected["n_at_risk"][column]
        assert [point.estimate, point.se, point.low, point.high] == pytest.approx(
            [
                expected["F1"][column],
                expected["se1"][column],
                *expected["ci95_F1_loglog"][column],
            ],
            abs=check["tolerance_abs"],
        )


def test_the_curve_with_late_entry(cast):
    """Twelve people, some followed only later; checked against R's survival and etm."""
    (check,) = checks("aalen_johansen_delayed_entry")
    load(cast.team, rows(check["input"]["csv"]), tiny_to_days, "cause")
    expected = check["expected"]
    for point, time in zip(told(cast.team), (6, 8, 9, 12), strict=True):
        column = expected["t"].index(time)
        assert [point.estimate, point.se] == pytest.approx(
            [expected["F1"][column], expected["se1"][column]], abs=check["tolerance_abs"]
        )


@pytest.mark.parametrize(("engaged", "leads"), [(81, 263), (15, 148), (0, 20), (1, 29)])
def test_the_interval_of_a_conversion(cast, engaged, leads):
    """Newcombe RG, Stat Med 1998;17:857-872, table I, method 3."""
    (check,) = [
        check
        for check in checks("wilson_interval")
        if (check["input"]["x"], check["input"]["n"]) == (engaged, leads)
    ]
    # Who returned on its first day has engaged; who waits is open.
    table = [{"id": str(n), "time": "0", "cause": str(int(n < engaged))} for n in range(leads)]
    load(cast.team, table, int, "cause")
    found = results(Cohort(cast.team, AS_OF)).overall.conversion
    assert found.estimate == engaged / leads
    assert [found.low, found.high] == pytest.approx(
        check["expected"]["ci95"], abs=check["tolerance_abs"]
    )
