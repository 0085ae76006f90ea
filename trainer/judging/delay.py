"""Find how late sound and input are together: from taps to a click, or from one recording of both.

Sign: a placement is tap minus click; late is positive. Two figures that are not the same:

- Tapping along measures the devices' delay together with the player's own habit. People tap some tens of
  milliseconds before the click that they hear (Aschersleben & Prinz 1995; Repp 2005), so a player with
  devices of no delay at all is found "early", and that is no bad timekeeping.
- One recording that holds the click and the knock of the pad gives the devices' delay alone. The
  microphone hears both late by the same time, so the gap between them is true; what the program made of the
  same tap, less that gap, is what the devices add. That delay is

      D = (tap graded - click graded) - (knock heard - click heard),

  and every constant that belongs to the recording cancels in it.

Answers that cannot be given are values. The middle is the median and the spread the interquartile range, so
a stumble moves neither.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trainer.errors import BadTimes

Times = NDArray[np.float64]

WANTED_TAPS = 16
WANTED_KNOCKS = 8  # the hand's own scatter is not in them
# Tappers scatter by 2 to 4 % of the beat (Repp 2005, from memory): at 0.6 s an interquartile range of 16 to
# 32 ms. At 60 ms the median of 16 taps is known to 25 ms either way, worse than the narrowest pocket.
MOST_SPREAD_S = 0.060
MOST_KNOCK_SPREAD_S = 0.015  # keys are read to 8 ms; more than twice that is no pair of the same taps
STEADY_SHARE = 0.04  # of the beat, as standard deviation: Repp 2005, from memory
IQR_OF_SD = 1.349  # interquartile range of a normal distribution, in standard deviations
LATEST_SHARE = 0.4  # of the gap between clicks; later, the next click may have been meant
EARLIEST_S = -0.150  # habits reach 100 ms in the untrained (Aschersleben 2002, from memory)
MOST_FINDING = 4  # taps at the beginning that may be left out while the player finds the beat
FENCE = 1.5  # interquartile ranges beyond the quartiles: Tukey 1977
SURE = 0.95
LEAST_DELAY_S = -0.050  # devices add time; only an error of the detection makes it a little less
MOST_DELAY_S = 0.500
SAME_TAP_S = 0.020  # how far a knock may be from where the tap, once shifted, puts it
SAME_CLICK_S = 0.008
MOST_TIMES = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayFound:
    """A delay that means something.

    Attributes:
        median_s: late positive.
        spread_s: interquartile range of what it is the median of.
        n: how many taps went into it.
        half_interval_s: half the width of an interval that holds the true median in at least 95 of 100 cases.
        gap_s: seconds between two clicks.
    """

    median_s: float
    spread_s: float
    n: int
    half_interval_s: float
    gap_s: float

    @property
    def is_steady(self) -> bool:
        """Whether the taps scatter no more than those of people who tap well do."""
        return self.spread_s <= STEADY_SHARE * IQR_OF_SD * self.gap_s


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFewTaps:
    """There are not enough taps that go with a click."""

    n: int
    wanted: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooSpread:
    """The taps scatter too far for their middle to mean anything."""

    spread_s: float
    most_s: float
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BetweenClicks:
    """The taps are so far from the clicks that it cannot be said which click each was meant for."""

    median_s: float
    gap_s: float
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NotHeard:
    """A recording does not hold what was looked for: ``what`` is "click" or "knock"."""

    what: str
    n: int
    wanted: int


DelayAnswer = DelayFound | TooFewTaps | TooSpread | BetweenClicks | NotHeard


def placements(clicks_s: ArrayLike, taps_s: ArrayLike) -> Times:
    """Return how far each tap that counts is from its click, in order of the clicks.

    A tap belongs to the click that is nearest once the middle of all taps is taken off, so taps that are
    late by nearly half a beat are not dealt to two clicks. A click keeps one tap, the one nearest to that
    middle (a double tap counts once); a click without a tap is left out.

    Args:
        clicks_s, taps_s: seconds on one clock, in any order; at least two clicks.

    Returns:
        Shape (clicks tapped to,), seconds; empty without a tap near the clicks.

    Raises:
        BadTimes: a time is not finite, or there are fewer than two clicks.
    """
    clicks, taps = _sorted(clicks_s, "clicks"), _sorted(taps_s, "taps")
    gap_s = _gap_s(clicks)
    taps = taps[(taps >= clicks[0] - gap_s / 2) & (taps <= clicks[-1] + gap_s / 2)]
    if not len(taps):
        return np.empty(0)
    near = taps - clicks[_nearest(clicks, taps)]
    turns = np.exp(2j * np.pi * near / gap_s)
    middle = float(np.angle(turns.sum())) / (2 * np.pi) * gap_s
    for _ in range(2):
        owner = _nearest(clicks, taps - middle)
        middle = float(np.median(taps - clicks[owner]))
    placed = taps - clicks[owner]
    return np.array(
        [min(placed[owner == click], key=lambda p: abs(p - middle)) for click in np.unique(owner)]
    )


def settled(placed: Times) -> Times:
    """Return the placements without those at the beginning in which the player was finding the beat.

    At most :data:`MOST_FINDING` are left out, and only those before a run of taps that lie within Tukey's
    fences of all the taps after the first ones.
    """
    rest = placed[MOST_FINDING:]
    if len(rest) < MOST_FINDING:
        return placed
    low, high = np.percentile(rest, [25, 75])
    reach = FENCE * (high - low)
    outside = (placed[:MOST_FINDING] < low - reach) | (placed[:MOST_FINDING] > high + reach)
    found = int(np.flatnonzero(outside)[-1]) + 1 if outside.any() else 0
    return placed[found:]


def find_delay(clicks_s: ArrayLike, taps_s: ArrayLike, *, wanted: int = WANTED_TAPS) -> DelayAnswer:
    """Return the delay from taps along with a click: the devices' and the player's habit together.

    Args:
        clicks_s, taps_s: seconds on one clock; no delay taken off.
        wanted: how many clicks must have been tapped to.

    Raises:
        BadTimes: as :func:`placements`.
    """
    placed = settled(placements(clicks_s, taps_s))
    gap_s = _gap_s(_sorted(clicks_s, "clicks"))
    answer = _middle(placed, gap_s=gap_s, wanted=wanted, most_s=MOST_SPREAD_S)
    if isinstance(answer, DelayFound) and not EARLIEST_S <= answer.median_s <= LATEST_SHARE * gap_s:
        return BetweenClicks(median_s=answer.median_s, gap_s=gap_s, n=answer.n)
    return answer


def find_device_delay(
    *,
    clicks_heard_s: ArrayLike,
    knocks_heard_s: ArrayLike,
    clicks_s: ArrayLike,
    taps_s: ArrayLike,
    wanted: int = WANTED_KNOCKS,
) -> DelayAnswer:
    """Return the devices' delay from one recording of clicks and knocks, and the same taps as graded.

    The taps may fall anywhere, best between the clicks. The recording may begin at any moment, hold noises
    besides and miss some of either.

    Args:
        clicks_heard_s, knocks_heard_s: seconds of the recording.
        clicks_s, taps_s: seconds on the clock by which taps are graded; no delay taken off.
        wanted: how many knocks must be paired with a tap.

    Raises:
        BadTimes: as :func:`placements`.
    """
    heard, knocks = _sorted(clicks_heard_s, "clicks heard"), _sorted(knocks_heard_s, "knocks heard")
    clicks, taps = _sorted(clicks_s, "clicks"), _sorted(taps_s, "taps")
    gap_s = _gap_s(clicks)
    if len(taps) < wanted:
        return TooFewTaps(n=len(taps), wanted=wanted)
    if len(knocks) < wanted:
        return NotHeard(what="knock", n=len(knocks), wanted=wanted)
    if len(heard) < 2:
        return NotHeard(what="click", n=len(heard), wanted=2)
    knock_shift = _shift(taps, knocks, SAME_TAP_S)
    # Clicks are alike, so their shift is known but for whole beats; only one of them makes a likely delay.
    low_s = knock_shift + LEAST_DELAY_S
    high_s = knock_shift + min(MOST_DELAY_S, gap_s + 2 * LEAST_DELAY_S)
    click_shift = _shift(clicks, heard, SAME_CLICK_S, low_s=low_s, high_s=high_s)
    delays = _differences(heard, knocks, clicks, taps, click_shift=click_shift, knock_shift=knock_shift)
    if not len(delays):
        return NotHeard(what="click", n=0, wanted=2)
    return _middle(delays, gap_s=gap_s, wanted=wanted, most_s=MOST_KNOCK_SPREAD_S)


def median_interval(values: ArrayLike) -> tuple[float, float] | None:
    """Return an interval that holds the median in at least 95 of 100 cases, whatever the distribution.

    It reaches from the k-th least to the k-th largest value, k the largest with
    2 P(B < k) <= 0.05, B binomial with n trials of 1/2: the sign test turned round. None below six values.
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    n, below, k = len(ordered), 0.0, 0
    while 2 * (below + math.comb(n, k) / 2**n) <= 1 - SURE:
        below += math.comb(n, k) / 2**n
        k += 1
    return (float(ordered[k - 1]), float(ordered[n - k])) if k else None


def _middle(values: Times, *, gap_s: float, wanted: int, most_s: float) -> DelayAnswer:
    n = len(values)
    interval = median_interval(values)
    if n < wanted or interval is None:
        return TooFewTaps(n=n, wanted=wanted)
    low, high = np.percentile(values, [25, 75])
    spread_s = float(high - low)
    if spread_s > most_s:
        return TooSpread(spread_s=spread_s, most_s=most_s, n=n)
    return DelayFound(
        median_s=float(np.median(values)),
        spread_s=spread_s,
        n=n,
        half_interval_s=(interval[1] - interval[0]) / 2,
        gap_s=gap_s,
    )


def _differences(
    heard: Times, knocks: Times, clicks: Times, taps: Times, *, click_shift: float, knock_shift: float
) -> Times:
    """Return the delay that each tap speaks for which has a knock: graded gap less heard gap."""
    heard_of = clicks[_nearest(clicks, heard - click_shift)]
    known = np.abs(heard - click_shift - heard_of) <= SAME_CLICK_S
    heard, heard_of = heard[known], heard_of[known]
    knock_of = knocks[_nearest(knocks, taps + knock_shift)]
    paired = np.abs(knock_of - taps - knock_shift) <= SAME_TAP_S
    if not len(heard):
        return np.empty(0)
    taps, knock_of = taps[paired], knock_of[paired]
    # Measured from a click nearby, two clocks that run a little apart do not matter.
    by = _nearest(heard, knock_of)
    return np.asarray((taps - heard_of[by]) - (knock_of - heard[by]))


def _shift(
    known: Times, heard: Times, within_s: float, *, low_s: float = -math.inf, high_s: float = math.inf
) -> float:
    """Return what to add to known times so that they meet heard ones best: the least sum of min(1, (r/w)^2).

    Tried is every shift that puts some known time on some heard one; the best is then moved by the median
    of what it leaves over.
    """
    tried = (heard[:, np.newaxis] - known).ravel()
    tried = tried[(tried >= low_s) & (tried <= high_s)]
    if not len(tried):
        return 0.0 if not math.isfinite(low_s) else low_s
    tried = np.unique(np.round(tried / (within_s / 4))) * (within_s / 4)
    costs = [np.minimum((_left_over(known + s, heard) / within_s) ** 2, 1.0).sum() for s in tried]
    shift = float(tried[int(np.argmin(costs))])
    for _ in range(2):
        over = _left_over(known + shift, heard)
        shift += float(np.median(over[np.abs(over) <= within_s])) if (np.abs(over) <= within_s).any() else 0.0
    return shift


def _left_over(times: Times, near: Times) -> Times:
    return np.asarray(near[_nearest(near, times)] - times)


def _nearest(ordered: Times, times: Times) -> NDArray[np.intp]:
    """Return the place in ``ordered`` of what is nearest to each time."""
    at = np.clip(np.searchsorted(ordered, times), 1, max(len(ordered) - 1, 1))
    if len(ordered) == 1:
        return np.zeros(len(times), dtype=np.intp)
    return np.where(times - ordered[at - 1] <= ordered[at] - times, at - 1, at)


def _sorted(times_s: ArrayLike, what: str) -> Times:
    times = np.sort(np.asarray(times_s, dtype=np.float64).ravel())
    if not np.isfinite(times).all():
        raise BadTimes(f"one of the {what} has no time that is a number", "leave it out")
    if len(times) > MOST_TIMES:
        raise BadTimes(f"{len(times)} {what} are more than {MOST_TIMES}", "cut the recording")
    return times


def _gap_s(clicks: Times) -> float:
    if len(clicks) < 2 or clicks[-1] <= clicks[0]:
        raise BadTimes("there are fewer than two clicks", "let the click go on for longer")
    return float(np.median(np.diff(clicks)))
