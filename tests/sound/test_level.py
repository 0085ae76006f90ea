"""Sixteen bits are never overrun, and the limit is the same for every sample."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from trainer.sound.level import CEILING, KNEE, limited, to_samples

SUMS = hnp.arrays(np.int32, st.integers(0, 300), elements=st.integers(-(2**20), 2**20))


@given(SUMS)
def test_a_mix_of_any_loudness_stays_below_the_ceiling(sums: np.ndarray) -> None:
    assert (np.abs(limited(sums).astype(int)) < CEILING).all()


@given(SUMS)
def test_a_soft_mix_is_left_alone_and_a_loud_one_keeps_its_sign(sums: np.ndarray) -> None:
    out = limited(sums).astype(int)
    soft = np.abs(sums) <= KNEE
    assert (out[soft] == sums[soft]).all()
    assert (np.sign(out) == np.sign(sums)).all()


@given(st.integers(-(2**20), 2**20 - 1))
def test_a_louder_mix_never_comes_out_softer(level: int) -> None:
    low, high = limited(np.array([level, level + 1], dtype=np.int32)).astype(int)
    assert low <= high


@given(SUMS, st.integers(0, 300))
def test_a_sample_does_not_depend_on_its_neighbours(sums: np.ndarray, cut: int) -> None:
    halves = np.concatenate([limited(sums[:cut]), limited(sums[cut:])])
    np.testing.assert_array_equal(halves, limited(sums))


def test_a_gain_of_minus_twenty_decibels_is_a_tenth() -> None:
    """Source: the definition of the decibel for amplitudes, 20 log10."""
    assert to_samples(np.array([1.0, -1.0, 0.0]), -20.0).tolist() == [3277, -3277, 0]
