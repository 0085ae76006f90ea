"""Say how well taps fit one version of what was played: a likelihood, less a price for each freedom.

A version is a row of strokes, each with the second at which this version expects it. Its likelihood is that
of everything that happened under the best pairing (:mod:`trainer.judging.matching`), in nats:

- each stroke sounded or not, each skip was touched or not: Bernoulli, the chance unknown and averaged over a
  Beta prior (a stroke is left out about once in ten, a skip touched about once in ten);
- each tap lies about its place with the take's own spread: a normal density, with one tap in twenty anywhere
  within reach; each kind of stroke, and strokes after a skip, may have a place of their own;
- each tap comes from the hand, and means the string, that the stroke asks for: Bernoulli again, seldom not;
- taps that no stroke asked for: a Poisson process of their own rate.

A freedom that is fitted costs half the logarithm of the number of taps (Schwarz 1978, Ann. Statist.
6:461-464; the same as the code length of Rissanen 1978, Automatica 14:465-471; both from memory); a choice
among m costs log m. So versions with different freedoms compare by one number, and a difference is the
logarithm of a Bayes factor.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trainer.judging.matching import (
    LONGEST_UNIT_US,
    Priced,
    Touch,
    is_unheard,
    match,
    microseconds,
    priced_at,
)
from trainer.music.layout import Target
from trainer.music.strokes import Kind

SOUNDED = (9.0, 1.0)  # Beta prior: strokes that sound, and do not
TOUCHED = (1.0, 9.0)  # skips that are touched, and are not
HEARD = (1.0, 1.0)  # left-hand sounds that the input need not hear
AGREES = (19.0, 1.0)  # taps of the hand asked for, and of the other
AGREES_STRING = (9.0, 1.0)
OTHER_STRINGS = 4
ANYWHERE = 0.05  # of the taps: within reach, but about no place
LEAST_SPREAD_S = 0.004  # no clock of ours is surer
USUAL_SPREAD = 0.06  # of a slot, where too few taps tell
LEAST_TAPS = 3  # for a middle or a spread of their own
MAD_TO_SD = 1.4826
LARGEST_LEAN = 0.45  # of a slot: beyond, a stroke is another one
LARGEST_RUSH = 0.85  # of a slot, after a skip
COUNT_IN_SPREAD = 0.05  # of a beat, of taps along with the count-in
LARGEST_CONSTANT_SHARE = 0.45  # of a slot
SPREAD_STEPS = 4
LEAN_ROUNDS = 2  # which kinds lean hangs on the spread, and the spread on which lean
ROOT_TWO_PI = math.sqrt(2 * math.pi)
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Version:
    """Strokes and where one version of the take expects them.

    Attributes:
        targets: what is asked, rests left out, in order of ``at_s``.
        at_s: the second at which each is expected.
        rate: length of a slot as a share of the length asked.
        slots_per_beat: of the figure.
        copies: places in ``targets`` that are another's second time.
    """

    targets: tuple[Target, ...]
    at_s: tuple[float, ...]
    rate: float
    slots_per_beat: int
    copies: frozenset[int] = frozenset()


@dataclass(slots=True)
class Fit:
    """How well taps fit a version.

    Attributes:
        nats: log likelihood less the prices of what was fitted here.
        pairs: for each target the place of its tap, None without one.
        constant_s: what all placements have in common, late positive.
        spread_s: of the taps about their places.
        swing_s: by how much the up slots lie late of the down slots.
        swing_gain: nats that a swing gains over leans of the kinds.
        hits, asked: strokes with a tap, and all that should sound.
        touched: skips that were touched.
        strays: taps that no stroke asked for.
        wrong: taps from the other side of the hand.
    """

    nats: float
    pairs: list[int | None]
    constant_s: float
    spread_s: float
    swing_s: float
    swing_gain: float
    hits: int
    asked: int
    touched: int
    strays: int
    wrong: int
    leans: dict[tuple[Kind, bool], float] = field(default_factory=dict)


def log_beta_bernoulli(hits: int, misses: int, prior: tuple[float, float]) -> float:
    """Return the log probability of one order of hits and misses, the chance averaged over a Beta prior.

    log B(a + hits, b + misses) - log B(a, b).
    """
    a, b = prior
    return _log_beta(a + hits, b + misses) - _log_beta(a, b)


def log_stray(count: int, seconds: float) -> float:
    """Return the log density of ``count`` taps of a Poisson process at the likeliest rate, over ``seconds``.

    count * log(rate) - rate * seconds with rate = count / seconds; 0 without a tap.
    """
    return count * math.log(count / seconds) - count if count else 0.0


def freedom(n: int) -> float:
    """Return the price in nats of a number fitted to ``n`` taps: log(n) / 2 (Schwarz 1978)."""
    return 0.5 * math.log(max(2, n))


def priced_version(version: Version, *, knows_left: bool, moved_s: float = 0.0) -> list[Priced]:
    """Return the targets of a version with their prices, all of them moved by some seconds."""
    priced = []
    for target, at_s in zip(version.targets, version.at_s, strict=True):
        unit = min(microseconds(target.slot_s * version.rate), LONGEST_UNIT_US)
        priced.append(
            priced_at(target, at_us=microseconds(at_s + moved_s), unit_us=unit, knows_left=knows_left)
        )
    return priced


def middle_of_pairs(priced: Sequence[Priced], touches: Sequence[Touch], pairs: Sequence[int | None]) -> float:
    """Return the median placement, in seconds, of the strokes that should sound; 0 with less than three."""
    off = [
        (touches[at].at_us - p.at_us) / 1e6
        for p, at in zip(priced, pairs, strict=True)
        if at is not None and p.target.stroke.kind is not Kind.SKIP
    ]
    return statistics.median(off) if len(off) >= LEAST_TAPS else 0.0


def fit(
    version: Version, touches: Sequence[Touch], *, seconds: float, beat_s: float, knows_left: bool
) -> Fit:
    """Fit a version: pair, take the constant off, pair again, and weigh.

    Args:
        touches: in order of time.
        seconds: the stretch of time looked at, the same for all versions that are compared.
        beat_s: length of a beat of the click, for taps along with the count-in.
    """
    priced = priced_version(version, knows_left=knows_left)
    pairs = match(priced, touches)
    constant_s = middle_of_pairs(priced, touches, pairs)
    if constant_s and priced:
        most_s = LARGEST_CONSTANT_SHARE * priced[0].unit_us / 1e6
        moved = priced_version(version, knows_left=knows_left, moved_s=max(-most_s, min(most_s, constant_s)))
        pairs = match(moved, touches)
        constant_s = middle_of_pairs(priced, touches, pairs)
    return weigh(version, priced, touches, pairs, constant_s, seconds=seconds, beat_s=beat_s,
                 knows_left=knows_left)  # fmt: skip


def weigh(
    version: Version,
    priced: Sequence[Priced],
    touches: Sequence[Touch],
    pairs: list[int | None],
    constant_s: float,
    *,
    seconds: float,
    beat_s: float,
    knows_left: bool,
) -> Fit:
    """Return the likelihood of a pairing; see the module's head."""
    hits = asked = touched = skips = heard = left = 0
    agree = differ = same_string = other_string = 0
    off: list[float] = []
    cells: list[tuple[Kind, bool]] = []
    ups: list[bool] = []
    reach: list[float] = []
    nats = 0.0
    after_skip = False
    for p, at in zip(priced, pairs, strict=True):
        stroke = p.target.stroke
        kind = stroke.kind
        if kind is Kind.SKIP:
            skips += 1
            touched += at is not None
        elif is_unheard(kind, knows_left=knows_left):
            left += 1
            heard += at is not None
        else:
            asked += 1
            hits += at is not None
        if at is not None:
            touch = touches[at]
            if kind is Kind.SKIP:
                nats += -math.log(2 * p.unit_us / 1e6) + (math.log(0.5) if touch.hand is not None else 0.0)
                nats += math.log(0.2) if touch.string is not None else 0.0
            else:
                off.append((touch.at_us - p.at_us) / 1e6 - constant_s)
                cells.append((kind, after_skip))
                ups.append(p.target.slot % version.slots_per_beat % 2 == 1)
                reach.append(p.unit_us / 1e6)
                if touch.hand is not None and not is_unheard(kind, knows_left=knows_left):
                    agree += touch.hand is kind.hand
                    differ += touch.hand is not kind.hand
                if touch.string is not None and not is_unheard(kind, knows_left=knows_left):
                    same_string += touch.string in stroke.strings
                    other_string += touch.string not in stroke.strings
        after_skip = kind is Kind.SKIP
    nats += log_beta_bernoulli(hits, asked - hits, SOUNDED)
    nats += log_beta_bernoulli(touched, skips - touched, TOUCHED)
    nats += log_beta_bernoulli(heard, left - heard, HEARD)
    nats += log_beta_bernoulli(agree, differ, AGREES)
    nats += log_beta_bernoulli(same_string, other_string, AGREES_STRING) - other_string * math.log(
        OTHER_STRINGS
    )
    used = {at for at in pairs if at is not None}
    first_us = priced[0].at_us - priced[0].unit_us if priced else 0
    strays = 0
    for at, touch in enumerate(touches):
        if at in used:
            continue
        nats += math.log(0.5) if touch.hand is not None else 0.0
        nats += math.log(0.2) if touch.string is not None else 0.0
        if touch.at_us < first_us:
            nats += _count_in(touch.at_us / 1e6, beat_s)
        else:
            strays += 1
    nats += log_stray(strays, seconds)
    n = len(touches)
    straight, spread_s, leans = _placements(off, cells, reach, n)
    swing_s, swing_gain = 0.0, 0.0
    if version.slots_per_beat != 3 and sum(ups) >= LEAST_TAPS and len(ups) - sum(ups) >= LEAST_TAPS:
        down = statistics.median(o for o, up in zip(off, ups, strict=True) if not up)
        delta = statistics.median(o for o, up in zip(off, ups, strict=True) if up) - down
        level = [o - (delta if up else 0.0) - down for o, up in zip(off, ups, strict=True)]
        swung, swung_spread_s, swung_leans = _placements(level, cells, reach, n)
        swing_gain = swung - freedom(n) - straight
        swing_s = delta
        if swing_gain > 0:
            spread_s, straight, leans = swung_spread_s, swung - freedom(n), swung_leans
    return Fit(
        nats=nats + straight - freedom(n),
        pairs=pairs,
        constant_s=constant_s,
        spread_s=spread_s,
        swing_s=swing_s,
        swing_gain=swing_gain,
        hits=hits + heard,
        asked=asked,
        touched=touched,
        strays=strays,
        wrong=differ,
        leans=leans,
    )


def rough_spread(off_s: FloatArray) -> float:
    """Return 1.4826 times the median of how far placements lie off, either way; needs at least one."""
    ordered = np.sort(np.abs(off_s))
    n = len(ordered)
    # For so few values numpy's own median takes longer than all the rest of a fit.
    return MAD_TO_SD * float(ordered[(n - 1) // 2] + ordered[n // 2]) / 2


def likeliest_spread(off_s: FloatArray, reach_s: FloatArray | float, first_s: float) -> float:
    """Return the spread under which placements are likeliest, some of the taps being anywhere.

    Each step weighs every tap by how likely it is no stray one, and takes the spread of what is left
    (expectation and maximisation: Dempster, Laird & Rubin 1977, J. R. Statist. Soc. B 39:1-38, from memory).
    A median of deviations would do for a rough spread; but where each kind of stroke has a middle of its own
    it comes out far too small in a short take, and what was asked then looks unlikely beside a figure of one
    kind.

    Args:
        first_s: a rough spread to begin with.
    """
    spread_s = max(LEAST_SPREAD_S, first_s)
    stray = ANYWHERE / (2 * np.asarray(reach_s))
    squares = off_s * off_s
    for _ in range(SPREAD_STEPS):
        normal = (1 - ANYWHERE) / (spread_s * ROOT_TWO_PI) * np.exp(-0.5 / spread_s**2 * squares)
        weights = normal / (normal + stray)
        total = float(weights.sum())
        if total < 1:
            break
        spread_s = max(LEAST_SPREAD_S, math.sqrt(float((weights * squares).sum()) / total))
    return spread_s


def log_placements(off_s: FloatArray | float, spread_s: float, reach_s: FloatArray | float) -> FloatArray:
    """Return the log density, per second, of each tap that lies off its place."""
    normal = (1 - ANYWHERE) / (spread_s * ROOT_TWO_PI) * np.exp(-0.5 / spread_s**2 * np.square(off_s))
    return np.asarray(np.log(normal + ANYWHERE / (2 * np.asarray(reach_s))))


def _placements(
    off: Sequence[float], cells: Sequence[tuple[Kind, bool]], reach: Sequence[float], n: int
) -> tuple[float, float, dict[tuple[Kind, bool], float]]:
    """Return the likelihood of the placements, their spread, and the leans of kinds that are worth it."""
    if not off:
        return 0.0, 0.0, {}
    off_s, reach_s = np.array(off), np.array(reach)
    by_cell: dict[tuple[Kind, bool], list[int]] = {}
    for at, cell in enumerate(cells):
        by_cell.setdefault(cell, []).append(at)
    middles = {}
    for cell, members in by_cell.items():
        if len(members) < LEAST_TAPS:
            continue
        middle = statistics.median([off[at] for at in members])
        furthest = LARGEST_RUSH if cell[1] and middle < 0 else LARGEST_LEAN
        if abs(middle) <= furthest * reach[members[0]]:
            middles[cell] = middle
    centred = off_s.copy()
    for cell, middle in middles.items():
        centred[by_cell[cell]] -= middle
    spread_s = USUAL_SPREAD * reach[0]
    rest, leans = centred, middles
    for _ in range(LEAN_ROUNDS):
        if len(off) > LEAST_TAPS:
            spread_s = likeliest_spread(rest, reach_s, rough_spread(rest))
        plain = log_placements(off_s, spread_s, reach_s)
        moved = log_placements(centred, spread_s, reach_s)
        leans, rest, nats = {}, off_s.copy(), 0.0
        for cell, members in by_cell.items():
            stays = float(plain[members].sum())
            leant = float(moved[members].sum()) - freedom(n) if cell in middles else stays
            if leant > stays:
                leans[cell] = middles[cell]
                rest[members] -= middles[cell]
            nats += max(stays, leant)
    return nats, spread_s, leans


def _count_in(at_s: float, beat_s: float) -> float:
    """Return the log density of a tap before the first stroke: half of them go along with the count-in."""
    off_s = at_s - beat_s * round(at_s / beat_s)
    spread_s = COUNT_IN_SPREAD * beat_s
    normal = math.exp(-0.5 * (off_s / spread_s) ** 2) / (spread_s * math.sqrt(2 * math.pi))
    return math.log(0.5 * normal + 0.5 / beat_s) - 1.0


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
