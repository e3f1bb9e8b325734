"""Rates of several groups that learn from each other: few trials are drawn to the common mean."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.stats.arguments import (
    Decimals,
    Whole,
    normal_quantile,
    same_length,
    whole_numbers,
)

# log K from -16 to 16 leaves out 1e-7 of its prior at either end.
LOG_STRENGTHS = np.linspace(-16.0, 16.0, 49)
MEANS = 97
RATES = 501
# Points of the posterior below this share of its peak, e^-25, carry nothing that is shown.
NEGLIGIBLE = 25.0
# Beyond ± this, a rate on the logit scale is 0 or 1 to every digit.
FARTHEST = 45.0


@dataclass(frozen=True, eq=False)
class Rates:
    """One value a group, in the order given: posterior `mean`, and `low` and `high` limits."""

    mean: Decimals
    low: Decimals
    high: Decimals


@dataclass(frozen=True, eq=False)
class _Posterior:
    """Beta distributions that the groups may come from, and how likely each is; shape (P,)."""

    alpha: Decimals
    beta: Decimals
    weight: Decimals


def hierarchical_rates(
    successes: npt.ArrayLike, trials: npt.ArrayLike, level: float = 0.95
) -> Rates:
    """Each group's rate under a common beta distribution that the groups themselves inform.

    `successes` and `trials` (G,): whole counts, one a group. A group with no trials yet gets what
    the others say. The limits are the posterior's equal-tailed quantiles at `level`.

    The model: y ~ Binomial(n, θ), θ ~ Beta(μK, (1-μ)K), μ uniform on (0, 1), and p(K) =
    1/(1+K)². The prior of K is proper, so groups that look alike are drawn together without K
    running away, as the maximum-likelihood K does. The posterior of μ and K is summed over a grid
    in logit μ and log K.

    Raises `ValueError` for counts that are negative, not whole or NaN, for more successes than
    trials, for unequal lengths, and for a level outside (0, 1).

    Source: Albert J, Bayesian Computation with R (2nd ed. 2009), chapter 5, for the model and the
    prior of K; Gelman A et al., Bayesian Data Analysis (3rd ed. 2013), section 5.3 for the grid
    (places from memory).
    """
    normal_quantile(level)
    y, n = whole_numbers("successes", successes), whole_numbers("trials", trials)
    same_length(successes=y, trials=n)
    if (y > n).any():
        at = int(np.argmax(y > n))
        raise ValueError(f"successes: {y[at]} at position {at} is more than {n[at]} trials")
    if not len(y):
        return Rates(np.empty(0), np.empty(0), np.empty(0))
    posterior = _posterior(y, n)
    strongest = 100.0 * (1 + n.sum())
    tails = np.array([(1 - level) / 2, (1 + level) / 2])
    rates = [
        _rate(int(won), int(of), posterior, strongest, tails) for won, of in zip(y, n, strict=True)
    ]
    mean, low, high = np.array(rates).T
    return Rates(mean, low, high)


def log_likelihood(successes: Whole, trials: Whole, alpha: Decimals, beta: Decimals) -> Decimals:
    """The beta-binomial log-likelihood of each pair (α, β), without the binomial coefficients.

    The sum over groups of log B(α + y, β + n - y) - log B(α, β), written as rising factorials,
    which keep their digits when α and β are large.
    """
    total = np.zeros(np.broadcast(alpha, beta).shape)
    for won, of in zip(successes, trials, strict=True):
        total += _log_rising(alpha, int(won)) + _log_rising(beta, int(of - won))
        total -= _log_rising(alpha + beta, int(of))
    return total


def _posterior(y: Whole, n: Whole) -> _Posterior:
    """Place the grid: for each K, zoom in on the means that matter."""
    strength = np.exp(LOG_STRENGTHS)[:, np.newaxis]
    low, high = np.full_like(strength, -FARTHEST), np.full_like(strength, FARTHEST)
    rows = np.arange(len(strength))
    for _ in range(4):
        logit = low + (high - low) * np.linspace(0, 1, MEANS)
        mean, rest = 1 / (1 + np.exp(-logit)), 1 / (1 + np.exp(logit))
        # The priors are uniform in μ and 1/(1+K)² in K; the grid is even in logit μ and log K.
        log_density = log_likelihood(y, n, mean * strength, rest * strength)
        log_density += np.log(mean * rest) + np.log(strength) - 2 * np.log1p(strength)
        height = log_density - log_density.max(axis=1, keepdims=True)
        matter = height > -NEGLIGIBLE
        first = np.maximum(matter.argmax(axis=1) - 1, 0)
        last = np.minimum(MEANS - matter[:, ::-1].argmax(axis=1), MEANS - 1)
        step = (high - low) / (MEANS - 1)
        low, high = logit[rows, first, np.newaxis], logit[rows, last, np.newaxis]
    weight = np.exp(log_density - log_density.max()) * step
    kept = weight > weight.max() * np.exp(-NEGLIGIBLE)
    return _Posterior(
        (mean * strength)[kept], (rest * strength)[kept], weight[kept] / weight[kept].sum()
    )


def _rate(
    won: int, of: int, posterior: _Posterior, strongest: float, tails: Decimals
) -> tuple[float, float, float]:
    """One group's posterior mean and limits: a mixture of beta distributions.

    For the limits, K is held at `strongest`: a beta much narrower than what is known of μ would
    fall between the points of the grid, and its width no longer shows in the limits.
    """
    alpha, beta = posterior.alpha + won, posterior.beta + of - won
    means = alpha / (alpha + beta)
    mean = float(posterior.weight @ means)
    variance = posterior.weight @ (means * (1 - means) / (alpha + beta + 1) + (means - mean) ** 2)

    hold = np.minimum(1.0, strongest / (posterior.alpha + posterior.beta))
    alpha, beta = posterior.alpha * hold + won, posterior.beta * hold + of - won
    centre, reach = np.log(alpha / beta), 8 * np.sqrt(_spread(alpha) + _spread(beta))
    edges = np.clip([(centre - reach).min(), (centre + reach).max()], -FARTHEST, FARTHEST)

    # Rates on the logit scale, spread like sinh: dense where the mass is, far out in few steps.
    middle, scale = np.log(mean / (1 - mean)), np.sqrt(variance) / (mean * (1 - mean))
    first, last = np.arcsinh((edges - middle) / scale)
    step = (last - first) / (RATES - 1)
    even = first + step * np.arange(RATES)
    logit = middle + scale * np.sinh(even)
    log_rate, log_rest = -np.log1p(np.exp(-logit)), -np.log1p(np.exp(logit))
    share = np.log(posterior.weight) - _log_beta(alpha, beta)
    density = np.exp(np.outer(log_rate, alpha) + np.outer(log_rest, beta) + share)

    # Far from its centre a beta falls like rate^α, so that what lies beyond an edge is its
    # density there (on the logit scale) divided by α, or by β on the other side.
    below, above = (density[0] / alpha).sum(), (density[-1] / beta).sum()
    heights = density.sum(axis=1) * scale * np.cosh(even) * step
    low, high = middle + scale * np.sinh(first + step * _quantiles(heights, below, above, tails))
    return mean, float(1 / (1 + np.exp(-low))), float(1 / (1 + np.exp(-high)))


def _quantiles(heights: Decimals, below: float, above: float, tails: Decimals) -> Decimals:
    """After how many steps the mass, counted from the left, reaches each share in `tails`.

    `heights` are the density times the step. Sums by the trapezoid rule with the correction for
    the slope; within a step the density is a straight line.
    """
    steps = (heights[1:] + heights[:-1]) / 2 - np.diff(np.gradient(heights)) / 12
    reached = below + np.concatenate(([0.0], np.cumsum(steps)))
    wanted = np.clip(tails * (reached[-1] + above), reached[0], reached[-1])
    cell = np.clip(np.searchsorted(reached, wanted) - 1, 0, len(heights) - 2)
    missing, start = wanted - reached[cell], heights[cell]
    root = np.sqrt(np.maximum(start**2 + 2 * missing * (heights[cell + 1] - start), 0.0))
    sides = start + root
    share = np.divide(2 * missing, sides, out=np.zeros_like(sides), where=sides > 0)
    found: Decimals = cell + np.clip(share, 0.0, 1.0)
    return found


def _spread(shape: Decimals) -> Decimals:
    """At least the variance that a gamma with this shape has on the log scale."""
    return 1 / shape + 1 / shape**2


def _log_rising(start: Decimals, count: int) -> Decimals:
    """log of start·(start + 1)···(start + count - 1).

    Source: Abramowitz and Stegun (1964), eq. 6.1.41 (number from memory), Stirling's series,
    after ten factors have moved the start to where five terms give every digit.
    """
    ratio = np.ones_like(start)
    for factor in range(min(count, 10)):
        ratio = ratio * (start + factor)
    if count <= 10:
        return np.log(ratio)
    for factor in range(10):
        ratio = ratio / (start + (count + factor))
    low = start + 10
    high = low + count
    main = (low - 0.5) * np.log1p(count / low) + count * np.log(high) - count
    result: Decimals = np.log(ratio) + main + _stirling(high) - _stirling(low)
    return result


def _log_beta(alpha: Decimals, beta: Decimals) -> Decimals:
    """log B(α, β) for positive α and β, by the same series."""
    both = alpha + beta
    ratio = np.ones_like(alpha)
    for factor in range(10):
        ratio = ratio * ((both + factor) / ((alpha + factor) * (beta + factor)))
    a, b, ab = alpha + 10, beta + 10, both + 10
    main = (a - 0.5) * np.log(a) + (b - 0.5) * np.log(b) - (ab - 0.5) * np.log(ab) - 10
    result: Decimals = np.log(ratio) + main + 0.5 * np.log(2 * np.pi)
    return result + _stirling(a) + _stirling(b) - _stirling(ab)


def _stirling(x: Decimals) -> Decimals:
    inverse = 1 / (x * x)
    return (1 / 12 - inverse * (1 / 360 - inverse * (1 / 1260 - inverse / 1680))) / x
