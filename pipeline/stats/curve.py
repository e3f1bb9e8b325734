"""The arithmetic under an incidence: from counts a day to a curve with its standard errors.

Everywhere below, for D days and K causes: `at_risk` has shape (D,) and holds how many are watched
on each day before anything happens on it, at least 1; `events` has shape (K, D).
"""

from dataclasses import dataclass

import numpy as np

from pipeline.stats.arguments import Decimals, Whole


@dataclass(frozen=True, eq=False)
class Steps:
    """A curve's value after each day: `survival` (D,), `incidence` and `se` (K, D), shares."""

    survival: Decimals
    incidence: Decimals
    se: Decimals


def aalen_johansen(at_risk: Whole, events: Whole) -> Steps:
    """The Aalen-Johansen incidence of each cause, with standard errors of the Greenwood type.

    Survival is the product over days of 1 - d/Y, incidence the sum of S(t-)·d_k/Y: Aalen OO,
    Johansen S, Scand J Stat 1978;5:141-150; Kalbfleisch JD, Prentice RL, The Statistical Analysis
    of Failure Time Data (2002), eq. 8.12 and 8.13 (equation numbers from memory).

    The variance is the delta method with a multinomial on each day: Dinse GE, Larson MG,
    Biometrika 1986;73:379-386, section 4, eq. 6 (the number as scikit-survival cites it); Marubini
    E, Valsecchi MG, Analysing Survival Data from Clinical Trials and Observational Studies (1995),
    eq. 10.12 (number from memory):

        sum over s <= t of (F(t)-F(s))²·d/(Y(Y-d)) + S(s-)²·d_k(Y-d_k)/Y³
                           - 2(F(t)-F(s))·S(s-)·d_k/Y²

    With one cause this is Greenwood's. A day on which all who are left have an event adds nothing
    to the first sum: the curve does not move after it.
    """
    leaving = events.sum(axis=0)
    watched = at_risk.astype(np.float64)
    kept = (watched - leaving) / watched
    survival = np.cumprod(kept)
    before = np.concatenate(([1.0], survival[:-1]))
    mass = before * events / watched
    incidence = np.cumsum(mass, axis=1)

    # F(t)-F(s) is written as ahead(s)-ahead(t), what is still to come after each day, so that the
    # three running sums stay as small as the variance itself where the curve nears its end.
    ahead = incidence[:, -1:] - incidence
    left = watched - leaving
    spread = np.divide(leaving, watched * left, out=np.zeros_like(watched), where=left > 0)
    own = before**2 * events * (watched - events) / watched**3
    cross = mass / watched
    variance = (
        np.cumsum(spread * ahead**2 + own - 2 * cross * ahead, axis=1)
        + 2 * ahead * np.cumsum(cross - spread * ahead, axis=1)
        + ahead**2 * np.cumsum(spread)
    )

    # Where nobody has left for a cause, or everybody has, nothing is uncertain in the estimate;
    # rounding must not say otherwise.
    whole = (survival == 0) & (incidence.sum(axis=0) == incidence)
    incidence = np.where(whole, 1.0, incidence)
    variance = np.where(whole | (incidence == 0), 0.0, np.maximum(variance, 0.0))
    return Steps(survival, incidence, np.sqrt(variance))


def weighted_incidence(
    at_risk: Whole, events: Whole, cause: int, weight: Decimals
) -> tuple[float, float]:
    """The sum over days of weight·S(t-)·d/Y for the cause in row `cause`, and its standard error.

    With weight τ - t this is the area under the incidence up to τ. The error is the same delta
    method as above: each day's hazards are multinomial, and each moves the sum by its slope.
    """
    watched = at_risk.astype(np.float64)
    hazards = events / watched
    kept = (watched - events.sum(axis=0)) / watched
    before = np.concatenate(([1.0], np.cumprod(kept)[:-1]))
    gains = before * hazards[cause] * weight
    to_come = np.concatenate((np.cumsum(gains[::-1])[::-1][1:], [0.0]))

    lost = np.divide(-to_come, kept, out=np.zeros_like(kept), where=kept > 0)
    slopes = np.tile(lost, (len(events), 1))
    slopes[cause] += before * weight
    mean_slope = (slopes * hazards).sum(axis=0)
    variance = (((slopes**2 * hazards).sum(axis=0) - mean_slope**2) / watched).sum()
    return float(gains.sum()), float(np.sqrt(max(variance, 0.0)))


def log_log_limits(estimate: Decimals, se: Decimals, z: float) -> tuple[Decimals, Decimals]:
    """F ** exp(± z·se / (F ln F)), within (0, 1); NaN where the estimate is 0 or 1.

    Source: Kalbfleisch and Prentice (2002), eq. 1.13 (number from memory), with an incidence in
    the place of a survival: an interval on the scale log(-log F).
    """
    inside = (estimate > 0) & (estimate < 1)
    share = np.where(inside, estimate, 0.5)
    with np.errstate(over="ignore"):  # an endless exponent means limits of 0 and 1
        shift = np.where(inside, np.exp(-z * se / (share * np.log(share))), np.nan)
    return share**shift, share ** (1 / shift)
