"""Tail probabilities against scipy."""

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from trainer.judging.chance import binomial_tail, chi_square_tail, difference, slope, t_two_sided

VALUES = st.lists(st.integers(-100_000, 100_000).map(lambda us: us / 1e6), min_size=3, max_size=30)


@given(st.integers(0, 60), st.integers(0, 60), st.sampled_from([0.01, 0.05, 0.5]))
def test_binomial_tail_is_scipys(hits: int, more: int, p: float) -> None:
    """Outside check: scipy.stats.binom.sf."""
    n = hits + more
    assert binomial_tail(hits, n, p) == pytest.approx(
        scipy.stats.binom.sf(hits - 1, n, p), rel=1e-8, abs=1e-15
    )


@given(st.floats(0.01, 400), st.integers(1, 200))
def test_chi_square_tail_is_scipys(value: float, degrees: int) -> None:
    """Outside check: scipy.stats.chi2.sf."""
    assert chi_square_tail(value, degrees) == pytest.approx(
        scipy.stats.chi2.sf(value, degrees), rel=1e-7, abs=1e-13
    )


@given(VALUES, VALUES)
def test_the_difference_of_means_is_scipys_welch_test(one: list[float], other: list[float]) -> None:
    """Outside check: scipy.stats.ttest_ind; ours rounds the degrees of freedom down, so never says less chance."""
    if np.var(one) + np.var(other) < 1e-12:
        return
    size, chance = difference(one, other)
    result = scipy.stats.ttest_ind(one, other, equal_var=False)
    assert size == pytest.approx(np.mean(one) - np.mean(other), abs=1e-12)
    assert chance >= result.pvalue - 1e-9
    degrees = float(np.floor(result.df + 1e-9))
    assert chance == pytest.approx(2 * scipy.stats.t.sf(abs(result.statistic), max(1.0, degrees)), abs=1e-6)


@given(VALUES)
def test_the_slope_is_scipys_regression(y: list[float]) -> None:
    """Outside check: scipy.stats.linregress."""
    x = [0.3 * n for n in range(len(y))]
    steep, chance = slope(x, y)
    result = scipy.stats.linregress(x, y)
    assert steep == pytest.approx(result.slope, abs=1e-12)
    if np.ptp(y) > 0:
        assert chance == pytest.approx(result.pvalue, abs=1e-6)


def test_too_little_to_compare_is_no_evidence() -> None:
    assert difference([0.1], [0.2, 0.3]) == (0.0, 1.0)
    assert slope([1.0, 2.0], [0.0, 1.0]) == (0.0, 1.0)
    assert slope([1.0, 1.0, 1.0], [0.0, 1.0, 2.0]) == (0.0, 1.0)
    assert t_two_sided(0.0, 5) == pytest.approx(1.0)
