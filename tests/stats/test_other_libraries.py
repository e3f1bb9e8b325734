"""General-purpose libraries as a second opinion, where they are right.

Not used, because they differ by intent or by mistake: lifelines for competing causes (it jitters
ties at random and loses day 0); scikit-survival's and statsmodels' errors where the last
observation is an event (zero, or none); scipy's interval of an ecdf (linear unless told).
"""

import numpy as np
import pytest
from hypothesis import given, settings
from lifelines import KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test
from scipy.stats import CensoredData, chi2, ecdf, poisson_binom
from sksurv.compare import compare_survival
from sksurv.nonparametric import cumulative_incidence_competing_risks, kaplan_meier_estimator
from statsmodels.duration.survfunc import CumIncidenceRight, SurvfuncRight, survdiff
from statsmodels.stats.multitest import multipletests

from pipeline.stats.comparison import chi_square_tail, holm, logrank_test
from pipeline.stats.forecast import poisson_binomial
from pipeline.stats.incidence import Incidence, cumulative_incidence

from .records import Record, arrays, records


def curve(record: Record) -> Incidence:
    times, causes, entry = arrays(record)
    return cumulative_incidence(times, causes, entry=entry)


def before_the_end(found: Incidence) -> np.ndarray:
    """The days on which the curve has not ended, where every library has an error."""
    return found.survival > 0


@given(records(causes=2, least=2))
def test_statsmodels_has_the_same_competing_incidences(record: Record) -> None:
    times, causes, _ = arrays(record)
    if not {1, 2} <= set(causes):
        return
    found = curve(record)
    with np.errstate(divide="ignore", invalid="ignore"):  # its error where all leave at once
        reference = CumIncidenceRight(times.astype(float), causes)
    # It lists the days with events only.
    index = np.searchsorted(found.days, reference.times)
    open_still = before_the_end(found)[index]
    for row in (0, 1):
        assert found.incidence[row, index] == pytest.approx(reference.cinc[row], abs=1e-12)
        errors = reference.cinc_se[row][open_still]
        assert found.se[row, index][open_still] == pytest.approx(errors, abs=1e-7)


@given(records(causes=2, least=2, first_day=1))
def test_scikit_survival_has_the_same_incidences_and_limits(record: Record) -> None:
    times, causes, _ = arrays(record)
    if not {1, 2} <= set(causes):
        return
    found = curve(record)
    if found.survival[-1] == 0:
        return  # the last observation is an event: its limits have no width on any day
    days, shares, limits = cumulative_incidence_competing_risks(
        causes, times.astype(float), conf_type="log-log", var_type="Dinse_Approx"
    )
    assert days == pytest.approx(found.days)
    told = found.se > 0
    for row in (0, 1):
        assert found.incidence[row] == pytest.approx(shares[row + 1], abs=1e-12)
        low, high = limits[row + 1]
        assert found.low[row][told[row]] == pytest.approx(low[told[row]], abs=1e-6)
        assert found.high[row][told[row]] == pytest.approx(high[told[row]], abs=1e-6)


@given(records(causes=1))
def test_scipy_lifelines_and_scikit_survival_have_the_same_kaplan_meier(record: Record) -> None:
    times, events, _ = arrays(record)
    found = curve(record)
    happened = events == 1
    lifelines = KaplanMeierFitter().fit(times, happened).predict(found.days)
    assert found.survival == pytest.approx(np.ravel(lifelines), abs=1e-12)
    _, scikit = kaplan_meier_estimator(happened, times.astype(float))
    assert found.survival == pytest.approx(scikit, abs=1e-12)
    if happened.any():
        scipy = ecdf(CensoredData.right_censored(times.astype(float), ~happened)).sf
        assert found.survival == pytest.approx(scipy.evaluate(found.days), abs=1e-12)


@given(records(causes=1, late=True, first_day=1))
def test_statsmodels_has_the_same_late_entry(record: Record) -> None:
    times, events, entry = arrays(record)
    if not events.any():
        return
    found = curve(record)
    reference = SurvfuncRight(times.astype(float), events, entry=entry.astype(float))
    index = np.searchsorted(found.days, reference.surv_times)
    if (found.at_risk[index] == found.events[0, index])[:-1].any():
        return  # a curve that ends before late leads enter: it goes on with none
    assert found.survival[index] == pytest.approx(reference.surv_prob, abs=1e-12)
    told = before_the_end(found)[index]
    errors = reference.surv_prob_se[told]
    assert found.se[0, index][told] == pytest.approx(errors, abs=1e-7)


@settings(max_examples=40)
@given(records(causes=1, least=6, first_day=1))
def test_three_libraries_have_the_same_logrank_test(record: Record) -> None:
    times, events, _ = arrays(record)
    groups = np.arange(len(times)) % 3
    found = logrank_test(times, events, groups)
    if found.df < 2:
        return
    statistic, p_value = survdiff(times.astype(float), events, groups)
    assert found.statistic == pytest.approx(statistic, abs=1e-8)
    assert found.p_value == pytest.approx(p_value, abs=1e-8)
    lifelines = multivariate_logrank_test(times, groups, events)
    assert found.statistic == pytest.approx(lifelines.test_statistic, abs=1e-8)
    outcome = np.array(
        list(zip(events == 1, times, strict=True)), dtype=[("event", bool), ("time", float)]
    )
    assert found.statistic == pytest.approx(compare_survival(outcome, groups)[0], abs=1e-8)


@pytest.mark.parametrize("df", [1, 2, 3, 4, 7, 10, 51, 400])
@pytest.mark.parametrize("value", [0.0, 0.01, 1.0, 3.84, 40.0, 300.0])
def test_scipy_has_the_same_chi_square_tail(value: float, df: int) -> None:
    assert chi_square_tail(value, df) == pytest.approx(chi2.sf(value, df), rel=1e-10, abs=1e-300)


def test_statsmodels_has_the_same_holm_adjustment() -> None:
    p_values = np.random.default_rng(4).random(50) ** 4
    p_values[7] = p_values[3]
    _, adjusted, _, _ = multipletests(p_values, method="holm")
    assert holm(p_values) == pytest.approx(adjusted, abs=1e-15)


def test_scipy_has_the_same_number_of_successes() -> None:
    chances = np.random.default_rng(5).random(60) ** 2
    mass = poisson_binomial(chances)
    assert mass == pytest.approx(poisson_binom.pmf(np.arange(61), chances), abs=1e-12)
