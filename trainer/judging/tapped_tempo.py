"""Find tempo and first beat of a track from taps along with it: a robust line of time over beat number.

The first tap is beat 1. Each next tap gets the beat number that its distance from the one before makes
likeliest, so a beat left out counts two and a tap that bounces counts none. The line begins with the median
of all slopes between two taps (Theil 1950, Sen 1968), which a quarter of wrong taps cannot turn; taps far
from it are left out, and least squares over the rest give the figures with their 95 % intervals.

All times are seconds of the track. What devices and hand add alike to every tap moves beat 1 and not the
tempo; the caller takes the devices' delay off first.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.errors import BadTimes
from trainer.judging.breakdown import robust_spread
from trainer.judging.chance import slope
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM
from trainer.music.timeline import BPM_DECIMALS

LEAST_TAPS = 8
BOUNCE_SHARE = 0.35  # of the usual distance; a tap sooner after another is the same tap
OUTLIER_SPREADS = 3.5
LEAST_OUTLIER_SHARE = 0.04  # of a beat; nearer to the line no tap is called wrong
LARGEST_SPREAD_SHARE = 0.10  # of a beat; people tap along within about 4 % (Repp 2005, from memory)
LARGEST_LEFT_OUT = 0.25  # of the taps; beyond, the line itself may be the wrong one
LARGEST_TEMPO_ERROR = 0.01
ROUNDS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class TappedTempo:
    """A tempo and where its first beat lies.

    Attributes:
        bpm: beats a minute, to a thousandth.
        half_interval_bpm: the tempo lies within this of ``bpm`` with 95 % confidence.
        beat_1_s: second of the track at which beat 1 lies.
        half_interval_s: the same confidence for ``beat_1_s``.
        spread_s: standard deviation of the taps about the line.
        taps, left_out: taps that the line goes by, and those it does not.
    """

    bpm: Fraction
    half_interval_bpm: float
    beat_1_s: float
    half_interval_s: float
    spread_s: float
    taps: int
    left_out: int

    @property
    def words(self) -> str:
        """The tempo, beat 1 and how sure they are, as a sentence."""
        left_out = f", {self.left_out} left out" if self.left_out else ""
        return (
            f"{float(self.bpm):.2f} beats a minute, give or take {self.half_interval_bpm:.2f}; "
            f"beat 1 at {self.beat_1_s:.3f} s, give or take {self.half_interval_s * 1000:.0f} ms "
            f"({self.taps} taps{left_out}, {self.spread_s * 1000:.0f} ms around an even beat)."
        )

    def error_after_s(self, seconds: float) -> float:
        """Return how far the beat may be off some seconds after beat 1, by both intervals together."""
        return self.half_interval_s + seconds * self.half_interval_bpm / float(self.bpm)

    def times(self, factor: Fraction) -> TappedTempo:
        """Return the same beats counted twice (2) or half (1/2) as often."""
        return replace(self, bpm=self.bpm * factor, half_interval_bpm=self.half_interval_bpm * float(factor))


@dataclass(frozen=True, slots=True, kw_only=True)
class UnclearTempo:
    """Why the taps give no tempo yet: one sentence that says what to do."""

    why: str


def tempo_of_taps(taps_s: Sequence[float]) -> TappedTempo | UnclearTempo:
    """Return the tempo of taps along a track, or why there is none.

    Args:
        taps_s: seconds of the track, ascending; the first is on beat 1.

    Raises:
        BadTimes: a time is not finite or before the one before it.
    """
    _check(taps_s)
    taps = _without_bounces(taps_s)
    if len(taps) < LEAST_TAPS:
        so_many = f"{len(taps)} tap{'s' * (len(taps) != 1)}"
        return UnclearTempo(why=f"{so_many}; tap at least {LEAST_TAPS} beats, from beat 1 on.")
    numbers, period_s = _numbered(taps)
    start_s = _middle_start(taps, numbers, period_s)
    off_s = [t - (start_s + n * period_s) for t, n in zip(taps, numbers, strict=True)]
    reach_s = max(OUTLIER_SPREADS * robust_spread(off_s), LEAST_OUTLIER_SHARE * period_s)
    kept = [(n, t) for n, t, off in zip(numbers, taps, off_s, strict=True) if abs(off) <= reach_s]
    line = slope([float(n) for n, _ in kept], [t for _, t in kept])
    if line is None or line.steepness <= 0 or len(kept) < LEAST_TAPS - LARGEST_LEFT_OUT * LEAST_TAPS:
        return UnclearTempo(why="These taps have no even beat; tap again from beat 1 on.")
    left_out = len(taps) - len(kept)
    mean_n = statistics.fmean(n for n, _ in kept)
    mean_s = statistics.fmean(t for _, t in kept)
    beat_1_s = mean_s - line.steepness * mean_n
    squares = math.fsum((t - beat_1_s - line.steepness * n) ** 2 for n, t in kept)
    spread_n = math.fsum((n - mean_n) ** 2 for n, _ in kept)
    bpm = 60 / line.steepness
    found = TappedTempo(
        bpm=Fraction(f"{bpm:.{BPM_DECIMALS}f}"),
        half_interval_bpm=bpm * line.half_interval / line.steepness,
        beat_1_s=beat_1_s,
        # The slope's interval is t * s / sqrt(spread_n); the intercept's has sqrt(1/n + mean**2/spread_n).
        half_interval_s=line.half_interval * math.sqrt(spread_n / len(kept) + mean_n**2),
        spread_s=math.sqrt(squares / (len(kept) - 2)),
        taps=len(kept),
        left_out=left_out,
    )
    why = _unclear(found, len(taps))
    return UnclearTempo(why=why) if why else found


def _unclear(found: TappedTempo, taps: int) -> str:
    """Return why a line is not to be trusted; an empty text when it is."""
    bpm = float(found.bpm)
    if not SLOWEST_BPM <= found.bpm <= FASTEST_BPM:
        return (
            f"{bpm:.0f} beats a minute is outside {SLOWEST_BPM} to {FASTEST_BPM}; "
            "tap twice or half as many beats."
        )
    if found.left_out > LARGEST_LEFT_OUT * taps:
        return (
            f"{found.left_out} of {taps} taps lie off the beat of the others; "
            "tap every beat, at one speed, from beat 1 on."
        )
    if found.spread_s > LARGEST_SPREAD_SHARE * 60 / bpm:
        return (
            f"The taps lie {found.spread_s * 1000:.0f} ms around an even beat of {60000 / bpm:.0f} ms; "
            "tap again, or type the tempo."
        )
    if found.half_interval_bpm > LARGEST_TEMPO_ERROR * bpm:
        return f"{bpm:.1f} beats a minute, give or take {found.half_interval_bpm:.1f}; go on tapping."
    return ""


def _check(taps_s: Sequence[float]) -> None:
    for at, tap_s in enumerate(taps_s):
        if not math.isfinite(tap_s) or (at and tap_s < taps_s[at - 1]):
            raise BadTimes(f"tap {at + 1} has the time {tap_s}", "give finite times in ascending order")


def _without_bounces(taps_s: Sequence[float]) -> list[float]:
    gaps = [b - a for a, b in itertools.pairwise(taps_s)]
    usual_s = statistics.median(gaps) if gaps else 0.0
    kept: list[float] = []
    for tap_s in taps_s:
        if not kept or tap_s - kept[-1] > BOUNCE_SHARE * usual_s:
            kept.append(tap_s)
    return kept


def _numbered(taps: Sequence[float]) -> tuple[list[int], float]:
    """Return the beat number of each tap and the length of a beat in seconds."""
    gaps = [b - a for a, b in itertools.pairwise(taps)]
    period_s = statistics.median(gaps)
    numbers = [0, *itertools.accumulate(max(1, round(gap / period_s)) for gap in gaps)]
    for _ in range(ROUNDS):
        period_s = _middle_slope(taps, numbers) or period_s
        start_s = _middle_start(taps, numbers, period_s)
        # Numbered anew from the line, so that one misplaced tap does not shift all that follow.
        again = [round((tap - start_s) / period_s) for tap in taps]
        again = [n - again[0] for n in again]
        if again == numbers:
            break
        numbers = again
    return numbers, period_s


def _middle_slope(taps: Sequence[float], numbers: Sequence[int]) -> float:
    """Return the median of the slopes between any two taps of different beats; 0 without any."""
    pairs = itertools.combinations(zip(numbers, taps, strict=True), 2)
    slopes = [(t2 - t1) / (n2 - n1) for (n1, t1), (n2, t2) in pairs if n1 != n2]
    return statistics.median(slopes) if slopes else 0.0


def _middle_start(taps: Sequence[float], numbers: Sequence[int], period_s: float) -> float:
    return statistics.median(t - n * period_s for n, t in zip(numbers, taps, strict=True))
