"""Ask whether what was seen could well be chance: tail probabilities for the advice.

All are exact up to rounding; the tests compare them with scipy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from trainer.judging.statistics import student_below


def binomial_tail(hits: int, n: int, p: float) -> float:
    """Return the probability of at least ``hits`` of ``n`` when each has probability ``p``."""
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


def difference(one: Sequence[float], other: Sequence[float]) -> tuple[float, float]:
    """Return mean(one) - mean(other) and its two-sided probability by Welch's t test.

    Welch 1947, Biometrika 34:28-35 (from memory; scipy.stats.ttest_ind with equal_var=False agrees).
    Both need at least two values that are not all alike; otherwise the probability is 1.
    """
    if len(one) < 2 or len(other) < 2:
        return 0.0, 1.0
    mean_one, var_one = _mean_variance(one)
    mean_other, var_other = _mean_variance(other)
    a, b = var_one / len(one), var_other / len(other)
    if a + b <= 0:
        return mean_one - mean_other, 1.0 if mean_one == mean_other else 0.0
    degrees = (a + b) ** 2 / (a * a / (len(one) - 1) + b * b / (len(other) - 1))
    return mean_one - mean_other, t_two_sided((mean_one - mean_other) / math.sqrt(a + b), degrees)


def slope(x: Sequence[float], y: Sequence[float]) -> tuple[float, float]:
    """Return the least-squares slope of y over x and its two-sided probability (scipy's linregress)."""
    n = len(x)
    if n < 3:
        return 0.0, 1.0
    mean_x, mean_y = math.fsum(x) / n, math.fsum(y) / n
    sxx = math.fsum((a - mean_x) ** 2 for a in x)
    sxy = math.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True))
    if sxx <= 0:
        return 0.0, 1.0
    steep = sxy / sxx
    rest = math.fsum((b - mean_y - steep * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    if rest <= 0:
        return steep, 1.0 if steep == 0 else 0.0
    return steep, t_two_sided(steep / math.sqrt(rest / (n - 2) / sxx), n - 2)


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


def _mean_variance(values: Sequence[float]) -> tuple[float, float]:
    mean = math.fsum(values) / len(values)
    return mean, math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1)
