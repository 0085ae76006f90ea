"""A reading weighs as a likelihood with a price for each freedom: its parts against scipy and formulas."""

import math

import numpy as np
import pytest
import scipy.integrate
import scipy.optimize
import scipy.special
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import SKIP_FIGURE, as_asked, tap, targets_of
from trainer.judging.matching import touch_of
from trainer.judging.reading_fit import (
    ANYWHERE,
    Version,
    fit,
    freedom,
    likeliest_spread,
    log_beta_bernoulli,
    log_placements,
    log_stray,
)
from trainer.judging.reading_search import HeardTaps, in_step, tempi
from trainer.music.strokes import Kind


@given(
    st.integers(0, 40), st.integers(0, 40), st.sampled_from([(9.0, 1.0), (1.0, 9.0), (0.5, 0.5), (19.0, 1.0)])
)
def test_hits_and_misses_weigh_as_one_order_of_a_beta_binomial(
    hits: int, misses: int, prior: tuple[float, float]
) -> None:
    """Outside check: scipy.stats.betabinom over all orders, divided by their number."""
    n = hits + misses
    found = scipy.stats.betabinom.logpmf(hits, n, *prior) - math.log(math.comb(n, hits))
    assert log_beta_bernoulli(hits, misses, prior) == pytest.approx(found, abs=1e-9)


@given(st.integers(1, 500), st.floats(0.5, 600))
def test_strays_weigh_as_a_poisson_process_at_its_likeliest_rate(count: int, seconds: float) -> None:
    """Outside check: a Poisson count times count! / seconds**count, the density of ordered moments."""
    process = scipy.stats.poisson.logpmf(count, count) + math.lgamma(count + 1) - count * math.log(seconds)
    assert log_stray(count, seconds) == pytest.approx(process, rel=1e-9, abs=1e-9)


@given(st.floats(0.004, 0.05), st.floats(0.15, 0.5))
def test_the_density_of_a_placement_is_scipys_normal_with_a_floor_and_holds_all_within_reach(
    spread_s: float, reach_s: float
) -> None:
    normal = (1 - ANYWHERE) * scipy.stats.norm.pdf(0.01, 0, spread_s)
    assert float(log_placements(0.01, spread_s, reach_s)) == pytest.approx(
        math.log(normal + ANYWHERE / (2 * reach_s))
    )
    total, _ = scipy.integrate.quad(
        lambda x: math.exp(log_placements(x, spread_s, reach_s)), -reach_s, reach_s, points=[0.0], limit=200
    )
    assert total == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize("n", [12, 60, 400])
@pytest.mark.parametrize("rough_s", [0.006, 0.012, 0.03])
def test_the_spread_is_the_likeliest_one_and_taps_that_are_anywhere_hardly_widen_it(
    n: int, rough_s: float
) -> None:
    """Outside check: scipy.optimize.minimize_scalar over the same likelihood."""
    rng = np.random.default_rng(n)
    off_s = rng.normal(0, 0.012, n)
    off_s[: n // 20] = rng.uniform(-0.3, 0.3, n // 20)
    best = scipy.optimize.minimize_scalar(
        lambda s: -log_placements(off_s, s, 0.3).sum(), bounds=(0.004, 0.1), method="bounded"
    )
    assert likeliest_spread(off_s, 0.3, rough_s) == pytest.approx(best.x, rel=0.02)


@pytest.mark.parametrize("n", [10, 60, 200])
def test_a_freedom_costs_what_it_gains_by_chance_seldom_pays_for(n: int) -> None:
    """Schwarz 1978: half of log n. Under the null twice the gain is chi-square of one degree (Wilks 1938).

    So a freedom that does nothing is taken with probability P(chi2_1 > log n).
    """
    rng = np.random.default_rng(3)
    x = rng.standard_normal((4000, n))
    gain = n * x.mean(axis=1) ** 2 / 2
    taken = float(np.mean(gain > freedom(n)))
    assert taken == pytest.approx(scipy.stats.chi2.sf(math.log(n), 1), abs=0.02)


def test_a_take_of_the_pattern_weighs_more_than_the_same_taps_a_beat_later() -> None:
    targets = tuple(t for t in targets_of(SKIP_FIGURE, passes=8) if t.stroke.kind is not Kind.REST)
    version = Version(targets, tuple(t.song_s for t in targets), 1.0, 2)
    found = []
    for late_s in (0.0, 1.0):
        touches = [touch_of(t) for t in as_asked(targets, late_s=late_s)]
        touches = [touch_of(tap(t.at_us / 1e6)) for t in touches]
        found.append(fit(version, touches, seconds=16.0, beat_s=1.0, knows_left=False))
    assert found[0].hits == found[0].asked == 24
    assert found[0].nats > found[1].nats


class TestTempi:
    def test_being_in_step_is_the_resultant_of_circular_statistics(self) -> None:
        """Outside check: scipy.stats.circvar is one less the resultant length."""
        u = np.random.default_rng(5).uniform(0, 60, 50)
        u.sort()
        angles = 2 * np.pi * u / 1.1
        assert abs(in_step(u, 1.1)) == pytest.approx(1 - scipy.stats.circvar(angles), abs=1e-12)

    @given(st.floats(0.45, 2.4), st.integers(0, 1000))
    def test_a_tempo_is_found_from_taps_alone(self, pace: float, seed: int) -> None:
        """A line through 64 slots with a twentieth of a slot of noise is sure to a thousandth."""
        rng = np.random.default_rng(seed)
        slots = np.flatnonzero(rng.random(96) < 0.7)
        u = slots / pace + rng.normal(0, 0.05, len(slots)) / pace
        rates = [rate for rate, _ in tempi(np.sort(u))]
        assert min(abs(rate * pace - 1) for rate in rates) < 0.01

    def test_what_was_asked_is_always_among_them(self) -> None:
        assert tempi(np.array([0.0, 1.0]))[0] == (1.0, 0.0)
        assert HeardTaps(np.array([0.0]), np.array([-1])).knows_hand is False
