"""Tail probabilities against scipy."""

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from trainer.judging.chance import (
    UNLIKE,
    batch_means,
    binomial_tail,
    chi_square_tail,
    contrast,
    contrast_alike,
    holm,
    slope,
    t_two_sided,
)

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


# scipy warns of lost precision when values are nearly alike; these are a millisecond apart.
APART = st.lists(st.integers(-100, 100).map(lambda ms: ms / 1e3), min_size=3, max_size=30, unique=True)


@given(APART, APART)
def test_two_groups_compare_as_in_scipys_welch_test(one: list[float], other: list[float]) -> None:
    """Outside check: scipy.stats.ttest_ind; ours rounds the degrees of freedom down, never saying less."""
    found = contrast(one, other)
    result = scipy.stats.ttest_ind(one, other, equal_var=False)
    assert found is not None
    degrees = max(1.0, float(np.floor(result.df + 1e-9)))
    error = abs(found.size / result.statistic) if result.statistic else None
    assert found.probability >= result.pvalue - 1e-9
    assert found.probability == pytest.approx(2 * scipy.stats.t.sf(abs(result.statistic), degrees), abs=1e-6)
    if error:
        assert found.half_interval == pytest.approx(scipy.stats.t.ppf(0.975, degrees) * error, rel=1e-4)


@given(VALUES)
def test_the_slope_is_scipys_regression(y: list[float]) -> None:
    """Outside check: scipy.stats.linregress."""
    x = [0.3 * n for n in range(len(y))]
    line = slope(x, y)
    assert line is not None
    result = scipy.stats.linregress(x, y)
    assert line.steepness == pytest.approx(result.slope, abs=1e-12)
    if np.ptp(y) > 0:
        assert line.probability == pytest.approx(result.pvalue, abs=1e-6)
        half = scipy.stats.t.ppf(0.975, len(y) - 2) * result.stderr
        assert line.half_interval == pytest.approx(half, rel=1e-5, abs=1e-9)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holms_rule_agrees_with_its_adjusted_probabilities(probabilities: list[float]) -> None:
    """Outside check: Holm 1979 in its other form, adjusted p(i) = max over j <= i of (m - j + 1) p(j)."""
    order = np.argsort(probabilities, kind="stable")
    m = len(probabilities)
    adjusted = np.maximum.accumulate([(m - j) * probabilities[k] for j, k in enumerate(order)])
    if np.any(np.abs(adjusted - 0.05) < 1e-9):
        return
    stands = holm(probabilities, [1.0] * m, 0.05)
    assert [stands[k] for k in order] == [bool(a <= 0.05) for a in adjusted]


def test_weights_share_out_the_false_alarm_rate() -> None:
    """By hand: weights 3 and 1 give 3.75 % and 1.25 %; once the first stands, the second has all 5 %."""
    assert holm([0.0374, 0.0126], [3, 1], 0.05) == (True, True)
    assert holm([0.0376, 0.0126], [3, 1], 0.05) == (False, False)
    assert holm([0.9, 0.0124], [3, 1], 0.05) == (False, True)
    assert holm([], [], 0.05) == ()


def test_batch_means_cover_every_value_once() -> None:
    values = [float(k) for k in range(50)]
    means = batch_means(values)
    assert len(means) == 8
    assert list(means) == sorted(means)
    assert means[0] == pytest.approx(np.mean(values[:6]))
    assert means[-1] == pytest.approx(np.mean(values[43:]))
    assert len(batch_means(values[:8])) == 4
    assert batch_means(values[:7]) == ()


def test_too_little_to_compare_is_no_evidence() -> None:
    assert contrast([0.1], [0.2, 0.3]) is None
    assert slope([1.0, 2.0], [0.0, 1.0]) is None
    assert slope([1.0, 1.0, 1.0], [0.0, 1.0, 2.0]) is None
    assert t_two_sided(0.0, 5) == pytest.approx(1.0)


def test_groups_without_spread_are_told_apart_for_certain() -> None:
    apart, alike = contrast([0.1, 0.1], [0.0, 0.0]), contrast([0.1, 0.1], [0.1, 0.1])
    assert apart is not None
    assert alike is not None
    assert (apart.probability, alike.probability) == (0.0, 1.0)


@given(APART, APART)
def test_groups_that_scatter_alike_are_compared_as_scipys_student_does(
    one: list[float], other: list[float]
) -> None:
    """Outside check: scipy.stats.ttest_ind, equal variances unless the first group scatters more."""
    found = contrast_alike(one, other)
    assert found is not None
    ratio = (len(one) - 1) * np.var(one, ddof=1) / np.var(other, ddof=1)
    alike = scipy.stats.chi2.sf(ratio, len(one) - 1) >= UNLIKE
    theirs = scipy.stats.ttest_ind(one, other, equal_var=alike)
    if alike:
        assert found.probability == pytest.approx(theirs.pvalue, abs=1e-9)
    else:
        # Welch's degrees are rounded down, which never makes chance look smaller.
        assert found.probability >= theirs.pvalue - 1e-9
