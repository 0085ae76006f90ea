"""Up-down rules against their published points; the observer's share of clean trials is known exactly."""

import math

import numpy as np
import pytest

from trainer.practice.staircase import EARLY_TURNS, NO_TURNS, InARow, Turns, UpDown, Weighted, estimate_from

TRIALS = 12_000
SLOPE = 0.25


def share_along_the_way(rule: UpDown, seed: int) -> float:
    """Run a rule on a logistic observer and return the mean share of clean trials where it went."""
    rng = np.random.default_rng(seed)
    level, shares = 0.0, []
    for chance in rng.random(TRIALS):
        share = 1 / (1 + math.exp(level / SLOPE))
        shares.append(share)
        rule = rule.after(clean=bool(chance < share))
        level += rule.moved
    return float(np.mean(shares[TRIALS // 10 :]))


@pytest.mark.parametrize(("needed", "point"), [(1, 0.5), (2, 0.7071), (3, 0.7937), (4, 0.8409)])
def test_up_after_some_in_a_row_settles_at_levitts_points(needed: int, point: float) -> None:
    """Levitt 1971, JASA 49:467-477, table of points (from memory): p**n = 1/2.

    Tolerance: the mean of 10 800 trials that hang together over some 50 has a standard error of 0.004; three
    of them, 0.012.
    """
    rule = InARow(needed=needed, step=0.02, least_step=0.02, turns=EARLY_TURNS)
    assert rule.target == pytest.approx(point, abs=5e-5)
    assert share_along_the_way(rule, needed) == pytest.approx(point, abs=0.012)


@pytest.mark.parametrize("point", [0.75, 0.8, 0.9])
def test_weighted_steps_settle_at_kaernbachs_points(point: float) -> None:
    """Kaernbach 1991, Percept. Psychophys. 49:227-229: up * p = down * (1 - p). Tolerance as above."""
    rule = Weighted(target=point, step=0.01, least_step=0.01)
    up, down = rule.after(clean=True).moved, -rule.after(clean=False).moved
    assert down / up == pytest.approx(point / (1 - point))
    assert share_along_the_way(rule, 7) == pytest.approx(point, abs=0.012)


def test_one_clean_trial_is_enough_while_it_searches_and_three_afterwards() -> None:
    rule: UpDown = InARow()
    assert rule.after(clean=True).moved > 0
    for _ in range(EARLY_TURNS):
        rule = rule.turned()
    once = rule.after(clean=True)
    assert (once.moved, once.in_words()) == (0, "1 of 3 clean")
    assert once.after(clean=True).after(clean=True).moved > 0
    assert once.after(clean=False).moved < 0


def test_steps_halve_at_every_second_turn_down_to_the_least() -> None:
    """By hand: 8 % twice, 4 % twice, then 3 % for good, in logarithms."""
    rule: UpDown = InARow()
    steps = []
    for _ in range(6):
        steps.append(rule.up_step)
        rule = rule.turned()
    eight, three = math.log(1.08), math.log(1.03)
    assert steps == pytest.approx([eight, eight, eight / 2, eight / 2, three, three])


def turns_of(*levels: float) -> Turns:
    """Go up and down through levels, turning at each."""
    turns = NO_TURNS.after(1, 0.0)
    for n, level in enumerate(levels):
        turns = turns.after(-1 if n % 2 == 0 else 1, level)
    return turns


def test_a_turn_is_a_step_the_other_way() -> None:
    turns = NO_TURNS.after(1, 60).after(1, 63).after(0, 66).after(-1, 66).after(-1, 63).after(1, 60)
    assert (turns.at, turns.seen) == ((66, 60), 2)


def test_the_estimate_is_the_geometric_mean_of_the_turns_after_the_search() -> None:
    """By hand: sqrt(80 * 90) = 84.85 for each pair, so the interval has no width."""
    assert estimate_from(turns_of(200, 20, 200, 20, 90, 80, 90, 80, 90)) is None
    estimate = estimate_from(turns_of(200, 20, 200, 20, 90, 80, 90, 80, 90, 80))
    assert estimate is not None
    assert estimate.bpm == pytest.approx(math.sqrt(80 * 90))
    assert estimate.low_bpm == pytest.approx(estimate.high_bpm)
    assert (estimate.turns, estimate.in_words()) == (6, "about 85 (85 to 85)")


def test_only_the_latest_turns_count() -> None:
    estimate = estimate_from(turns_of(*[50, 40] * 20, *[100, 90] * 6))
    assert estimate is not None
    assert estimate.bpm == pytest.approx(math.sqrt(100 * 90))
