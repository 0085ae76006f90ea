"""Say how likely taps are that follow no figure: anywhere, or in an even row of their own.

The measure is that of :mod:`trainer.judging.reading_fit`, so that the two compare.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence

import numpy as np

from trainer.judging.matching import Touch
from trainer.judging.reading_fit import (
    FloatArray,
    freedom,
    likeliest_spread,
    log_beta_bernoulli,
    log_placements,
    log_stray,
    rough_spread,
)
from trainer.music.strokes import Hand

LEAST_ROW = 8  # taps; fewer make no row


def without_figure(touches: Sequence[Touch], seconds: float) -> tuple[float, bool]:
    """Return the nats of taps that follow no figure, and whether an even row explains them best.

    Either they fall anywhere, a Poisson process, or each comes one even interval after the last; each from
    any hand, or from the two in turn.
    """
    known = [t.hand for t in touches if t.hand in (Hand.NAIL, Hand.THUMB)]
    nails = sum(1 for hand in known if hand is Hand.NAIL)
    hands = log_beta_bernoulli(nails, len(known) - nails, (0.5, 0.5))
    if len(known) > 1:
        changes = sum(1 for a, b in itertools.pairwise(known) if a is not b)
        hands = max(hands, log_beta_bernoulli(changes, len(known) - 1 - changes, (0.5, 0.5)) - math.log(4))
    hands += math.log(0.5) * sum(1 for t in touches if t.hand is Hand.LEFT)
    hands += math.log(0.2) * sum(1 for t in touches if t.string is not None)
    n = len(touches)
    anywhere = log_stray(n, seconds) - freedom(n)
    if n < LEAST_ROW:
        return anywhere + hands, False
    steps = [(b.at_us - a.at_us) / 1e6 for a, b in itertools.pairwise(touches)]
    middle = statistics.median(steps)
    even = _about(np.array(steps) - middle, max(middle, 0.02))
    even = max(even, _in_a_row(touches)) + math.log(1 / seconds) - 2 * freedom(n)
    return max(anywhere, even) + hands, even > anywhere


def _in_a_row(touches: Sequence[Touch]) -> float:
    """Return the log density of taps that each lie about their place in one even row, as with a click."""
    at_s = np.array([t.at_us for t in touches]) / 1e6
    order = np.arange(len(at_s))
    line = np.polyfit(order, at_s, 1)
    off = at_s - np.polyval(line, order)
    return _about(off, max(float(line[0]), 0.02))


def _about(off_s: FloatArray, reach_s: float) -> float:
    """Return the log density of taps off their places, with the spread under which they are likeliest."""
    spread_s = likeliest_spread(off_s, reach_s, rough_spread(off_s))
    return float(log_placements(off_s, spread_s, reach_s).sum())
