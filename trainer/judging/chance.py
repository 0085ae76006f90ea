"""Ask whether what was seen could well be chance: tail probabilities for the advice.

All are exact up to rounding; the tests compare them with scipy.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.judging.statistics import student_below, student_quantile

LEAST_BATCHES = 4
MOST_BATCHES = 8
BATCH_LENGTH = 6
UNLIKE = 0.05  # a scatter that chance makes so seldom is another one


def binomial_tail(hits: int, n: int, p: float) -> float:
    """Return the probability of at least ``hits`` of ``n`` when each has probability ``p``.

    >>> round(binomial_tail(9, 10, 0.5), 4)  # 11 of 1024
    0.0107
    """
    if hits <= 0:
        return 1.0
    log_p, log_q = math.log(p), math.log1p(-p)
    total = 0.0
    for k in range(hits, n + 1):
        log = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
        total += math.exp(log + k * log_p + (n - k) * log_q)
    return min(1.0, total)


def t_two_sided(t: float, degrees: float) -> float:
    """Return the probability of a Student's t at least this far from zero, either way.

    Fractional degrees of freedom (Welch) are rounded down, which never makes chance look smaller.
    """
    return 2.0 * (1.0 - student_below(abs(t), max(1, math.floor(degrees + 1e-9))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """How two groups differ.

    Attributes:
        size: mean of the one less mean of the other, in the unit of the values.
        half_interval: the difference lies within this of ``size`` with 95 % confidence.
        probability: of a difference at least this large, either way, when there is none.
        n, n_other: how many values each group has.
    """

    size: float
    half_interval: float
    probability: float
    n: int
    n_other: int


def contrast(one: Sequence[float], other: Sequence[float]) -> Contrast | None:
    """Compare the means of two groups by Welch's t test; None when either has less than two values.

    Welch 1947, Biometrika 34:28-35 (from memory; scipy.stats.ttest_ind with equal_var=False agrees).
    Degrees of freedom are rounded down, which never makes chance look smaller.
    """
    if min(len(one), len(other)) < 2:
        return None
    size = math.fsum(one) / len(one) - math.fsum(other) / len(other)
    a, b = _squared_error(one), _squared_error(other)
    if a + b <= 0:
        certain = 1.0 if size == 0 else 0.0
        return Contrast(size=size, half_interval=0.0, probability=certain, n=len(one), n_other=len(other))
    parts = a**2 / (len(one) - 1) + b**2 / (len(other) - 1)
    degrees = max(1, math.floor((a + b) ** 2 / parts + 1e-9)) if parts > 0 else 1
    return _by_t(size, math.sqrt(a + b), degrees, len(one), len(other))


def contrast_alike(one: Sequence[float], other: Sequence[float]) -> Contrast | None:
    """Compare the means of two groups that scatter alike by Student's t test: it tells small groups better.

    The variances are pooled (Student 1908, Biometrika 6:1-25, from memory; scipy.stats.ttest_ind agrees),
    unless the first group scatters more than the other by more than chance makes one time in twenty: then it
    is Welch's test. None when either has less than two values.
    """
    if min(len(one), len(other)) < 2:
        return None
    a, b = _squared_error(one) * len(one), _squared_error(other) * len(other)
    if b <= 0 or chi_square_tail((len(one) - 1) * a / b, len(one) - 1) < UNLIKE:
        return contrast(one, other)
    degrees = len(one) + len(other) - 2
    pooled = ((len(one) - 1) * a + (len(other) - 1) * b) / degrees
    size = math.fsum(one) / len(one) - math.fsum(other) / len(other)
    error = math.sqrt(pooled * (1 / len(one) + 1 / len(other)))
    return _by_t(size, error, degrees, len(one), len(other))


def _by_t(size: float, error: float, degrees: int, n: int, n_other: int) -> Contrast:
    return Contrast(
        size=size,
        half_interval=student_quantile(0.975, degrees) * error,
        probability=t_two_sided(size / error, degrees),
        n=n,
        n_other=n_other,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """A straight line through points: its steepness, the 95 % half-interval, and the chance of none."""

    steepness: float
    half_interval: float
    probability: float


def slope(x: Sequence[float], y: Sequence[float]) -> Slope | None:
    """Return the least-squares line of y over x (scipy's linregress); None where no line can be laid."""
    n = len(x)
    if n < 3:
        return None
    mean_x, mean_y = math.fsum(x) / n, math.fsum(y) / n
    sxx = math.fsum((a - mean_x) ** 2 for a in x)
    if sxx <= 0:
        return None
    sxy = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True))
    steep = sxy / sxx
    rest = math.fsum((b - mean_y - steep * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    if rest <= 0:
        return Slope(steepness=steep, half_interval=0.0, probability=1.0 if steep == 0 else 0.0)
    error = math.sqrt(rest / (n - 2) / sxx)
    return Slope(
        steepness=steep,
        half_interval=student_quantile(0.975, n - 2) * error,
        probability=t_two_sided(steep / error, n - 2),
    )


def chi_square_tail(value: float, degrees: int) -> float:
    """Return the probability of a chi-square at least this large: Q(degrees/2, value/2).

    Series below the mean and continued fraction above it, as in Press et al., Numerical Recipes, 6.2.
    """
    if value <= 0:
        return 1.0
    a, x = degrees / 2, value / 2
    scale = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1:
        term = total = 1.0 / a
        n = a
        while term > total * 1e-15:
            n += 1
            term *= x / n
            total += term
        return 1.0 - total * scale
    tiny = 1e-300
    b = x + 1 - a
    c, d = 1 / tiny, 1 / b
    h = d
    for i in range(1, 10_000):
        an = -i * (i - a)
        b += 2
        d = 1 / (an * d + b or tiny)
        c = b + an / c or tiny
        h *= d * c
        if abs(d * c - 1) < 1e-15:
            break
    return scale * h


def batch_means(values: Sequence[float]) -> tuple[float, ...]:
    """Return the means of successive stretches of a take, as equal in length as can be.

    What one stroke is off by carries over to the next (phase correction), so single strokes are no
    independent witnesses; means of stretches much longer than the carry-over nearly are. This is the
    method of batch means (Conway 1963, Management Science 10:47-61, from memory).

    Returns:
        4 to 8 means; none for less than 8 values.
    """
    n = len(values)
    if n < 2 * LEAST_BATCHES:
        return ()
    count = min(MOST_BATCHES, max(LEAST_BATCHES, n // BATCH_LENGTH))
    edges = [n * k // count for k in range(count + 1)]
    return tuple(math.fsum(values[i:j]) / (j - i) for i, j in itertools.pairwise(edges))


def holm(probabilities: Sequence[float], weights: Sequence[float], rate: float) -> tuple[bool, ...]:
    """Return which of several findings stand when any false one may stand with probability ``rate``.

    Holm 1979, Scand. J. Statist. 6:65-70 (from memory), with weights: in order of probability over weight,
    each is compared with its weight's share of the rate among those still standing, until one fails. Holds
    however the tests hang together, as long as the weights do not depend on what was played.

    Args:
        weights: above 0, as many as probabilities; alike for plain Holm.

    >>> holm([0.01, 0.04, 0.3], [1, 1, 1], 0.05)
    (True, False, False)
    """
    stands = [False] * len(probabilities)
    left = math.fsum(weights)
    for at in sorted(range(len(probabilities)), key=lambda k: probabilities[k] / weights[k]):
        if probabilities[at] * left > rate * weights[at]:
            break
        stands[at] = True
        left -= weights[at]
    return tuple(stands)


def _squared_error(values: Sequence[float]) -> float:
    """Return the squared standard error of a mean."""
    mean = math.fsum(values) / len(values)
    return math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1) / len(values)
