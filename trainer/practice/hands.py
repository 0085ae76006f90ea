"""Play a pattern with stated faults, so that the judge can be checked and the program shown.

What is asked is a row of targets; what comes back is the taps of a simulated player together with the
truth about each. Signs: a placement is tap minus target in seconds, late positive.

The hand is a pendulum that passes every slot, sounding or not, and its timing is the two-part model of
Wing & Kristofferson (1973, Percept. Psychophys. 14:5-12) with linear phase correction (Vorberg & Wing
1996; Vorberg & Schulze 2002, J. Math. Psychol. 46:56-87; formulas from memory). From slot n to slot n+1
the asynchrony A goes on as

    A[n+1] = (1 - alpha) * A[n] + E[n] + M[n+1] - M[n],    A[0] = M[0]

with E the error of the timekeeper's interval (sd ``clock_sd_s``, mean ``drift`` times the interval, less the
share 1 - (1 + ``speed_up``)**-k of it in pass k), M the motor delay (sd ``motor_sd_s``) and alpha the
correction. In the long run the variance of A is (sd_E**2 + 2*alpha*sd_M**2) / (alpha*(2 - alpha)), its lag-1
autocovariance (1 - alpha) times that less sd_M**2, and its mean is the mean of E over alpha. Without
correction (alpha = 0) A wanders away.

Each stroke then falls at target + A + the lean of its kind - the rush after a skip + the lateness after a
chord change + its own jitter.
"""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.judging.changes import first_after_changes
from trainer.judging.take import Tap
from trainer.music.chart import Chart
from trainer.music.layout import Target
from trainer.music.strokes import DRONE, LONG_STRINGS, Hand, Kind
from trainer.practice.faults import Faults

DOUBLE_AFTER_S = (0.015, 0.045)  # how long after a stroke the same pad bounces; common practice, no source
STRAY_IN_SLOT = (0.3, 0.7)  # strays fall between two slots, where they are nobody's stroke
VELOCITY = 84
ACCENT_VELOCITY = 112
VELOCITY_SD = 5.0
SOFTER_SHARE = 0.6  # of a stray, a touched skip or a bounce, compared with a stroke


class Cause(enum.Enum):
    """Why the simulated player made a tap."""

    STROKE = "stroke"
    TOUCH = "touch"
    STRAY = "stray"
    DOUBLE = "double"


class Deed(enum.Enum):
    """What the simulated player did with a target."""

    PLAYED = "played"
    MISSED = "missed"
    KEPT_SILENT = "kept silent"
    TOUCHED = "touched"
    NOT_HEARD = "not heard"
    RESTED = "rested"


@dataclass(frozen=True, slots=True, kw_only=True)
class TapTruth:
    """Where one tap came from.

    Attributes:
        cause: why it was made.
        target_index: ``Target.index`` of the stroke or skip it belongs to (for a double: of the stroke that
            bounced); None for a stray.
        wrong_hand: the other hand made the stroke.
    """

    cause: Cause
    target_index: int | None
    wrong_hand: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetTruth:
    """What became of one target.

    Attributes:
        target_index: ``Target.index``.
        deed: what the player did.
        tap_index: place of its tap among the taps; None without one.
        placement_s: tap minus target, late positive; None without a tap.
        rushed: the rush after a skip was put into it.
        late_change: the lateness after a chord change was put into it.
    """

    target_index: int
    deed: Deed
    tap_index: int | None = None
    placement_s: float | None = None
    rushed: bool = False
    late_change: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedTake:
    """The taps in order of time, the truth of each, and the truth of each target in order."""

    taps: tuple[Tap, ...]
    tap_truths: tuple[TapTruth, ...]
    target_truths: tuple[TargetTruth, ...]


@dataclass(frozen=True, slots=True)
class _Chances:
    """Everything random, drawn before anything is played.

    The same numbers are drawn whatever the faults are, so that two players of one seed differ by their
    faults alone.
    """

    jitter: NDArray[np.float64]
    velocity: NDArray[np.float64]
    miss: NDArray[np.float64]
    touch: NDArray[np.float64]
    wrong: NDArray[np.float64]
    stray: NDArray[np.float64]
    stray_at: NDArray[np.float64]
    stray_thumb: NDArray[np.float64]
    double: NDArray[np.float64]
    double_at: NDArray[np.float64]
    string: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Played:
    tap: Tap
    truth: TapTruth


def simulate(
    targets: Sequence[Target], faults: Faults, rng: np.random.Generator, *, chart: Chart | None = None
) -> SimulatedTake:
    """Play targets with faults.

    Args:
        targets: from :func:`trainer.music.layout.lay_out`, in order, rests included: the hand passes them.
        faults: what goes wrong.
        rng: where chance comes from; the same state gives the same take.
        chart: the chords under one pass; without it no stroke comes after a change.

    Returns:
        The take; no targets give no taps. A first stroke that leans early has a time below zero.
    """
    asynchrony_s = hand_asynchrony(targets, faults, rng)
    chances = _draw(len(targets), rng)
    played: list[_Played] = []
    deeds: list[TargetTruth] = []
    changes = first_after_changes(targets, chart) if faults.late_change_s else {}
    after_skip = False
    for at, target in enumerate(targets):
        kind = target.stroke.kind
        hand_s = target.song_s + float(asynchrony_s[at])
        deed, rushed, late_change = Deed.RESTED, False, target.index in changes
        if kind is Kind.SKIP:
            deed, after_skip = Deed.KEPT_SILENT, True
            if chances.touch[at] < faults.touch_skips:
                deed = Deed.TOUCHED
                song_s = hand_s + faults.jitter_s * float(chances.jitter[at])
                played.append(_touch(target, song_s, at, chances, faults))
        elif kind.sounds:
            rushed = after_skip and faults.rush_gap_s != 0
            after_skip = False
            deed = _deed(kind, faults, float(chances.miss[at]))
            if deed is Deed.PLAYED:
                moved_s = faults.lean(kind) - (faults.rush_gap_s if rushed else 0.0)
                moved_s += faults.late_change_s if late_change else 0.0
                song_s = hand_s + moved_s + faults.jitter_s * float(chances.jitter[at])
                played.extend(_stroke(target, song_s, at, chances, faults))
        if chances.stray[at] < faults.stray:
            played.append(_stray(target, at, chances, faults))
        sounded = deed is Deed.PLAYED
        deeds.append(
            TargetTruth(
                target_index=target.index,
                deed=deed,
                rushed=rushed and sounded,
                late_change=late_change and sounded,
            )
        )
    return _in_order(played, deeds, targets)


def hand_asynchrony(
    targets: Sequence[Target], faults: Faults, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Return how far the hand is off at each target, in seconds, late positive; shape (n,).

    The recursion of the module's head; with no noise and no drift it is zero throughout.
    """
    n = len(targets)
    intervals = np.diff([t.song_s for t in targets], append=np.nan)[:n]
    first = targets[0].pass_index if n else 0
    sooner = np.array([(1.0 + faults.speed_up) ** (first - t.pass_index) - 1.0 for t in targets])
    timekeeper = faults.clock_sd_s * rng.standard_normal(n) + (faults.drift + sooner) * intervals
    motor = faults.motor_sd_s * rng.standard_normal(n)
    asynchrony = np.zeros(n)
    if n:
        asynchrony[0] = motor[0]
    kept = 1.0 - faults.correction
    for at in range(n - 1):
        asynchrony[at + 1] = kept * asynchrony[at] + timekeeper[at] + motor[at + 1] - motor[at]
    return asynchrony


def _draw(n: int, rng: np.random.Generator) -> _Chances:
    return _Chances(
        jitter=rng.standard_normal(n),
        velocity=rng.standard_normal(n),
        miss=rng.random(n),
        touch=rng.random(n),
        wrong=rng.random(n),
        stray=rng.random(n),
        stray_at=rng.uniform(*STRAY_IN_SLOT, n),
        stray_thumb=rng.random(n),
        double=rng.random(n),
        double_at=rng.uniform(*DOUBLE_AFTER_S, n),
        string=rng.choice(LONG_STRINGS, n),
    )


def _deed(kind: Kind, faults: Faults, chance: float) -> Deed:
    if kind.hand is Hand.LEFT and faults.one_pad:
        return Deed.NOT_HEARD
    return Deed.MISSED if chance < faults.miss else Deed.PLAYED


def _stroke(target: Target, song_s: float, at: int, chances: _Chances, faults: Faults) -> list[_Played]:
    stroke = target.stroke
    hand = stroke.hand
    wrong = hand is not Hand.LEFT and not faults.one_pad and bool(chances.wrong[at] < faults.wrong_hand)
    if wrong:
        hand = Hand.THUMB if hand is Hand.NAIL else Hand.NAIL
    loudness = ACCENT_VELOCITY if stroke.accented else VELOCITY
    velocity = loudness + VELOCITY_SD * float(chances.velocity[at])
    tap = _tap(song_s, hand, stroke.strings[0], velocity, faults)
    played = [_Played(tap, TapTruth(cause=Cause.STROKE, target_index=target.index, wrong_hand=wrong))]
    if chances.double[at] < faults.double:
        bounce = _tap(
            song_s + float(chances.double_at[at]), hand, stroke.strings[0], velocity * SOFTER_SHARE, faults
        )
        played.append(_Played(bounce, TapTruth(cause=Cause.DOUBLE, target_index=target.index)))
    return played


def _touch(target: Target, song_s: float, at: int, chances: _Chances, faults: Faults) -> _Played:
    velocity = SOFTER_SHARE * (VELOCITY + VELOCITY_SD * float(chances.velocity[at]))
    tap = _tap(song_s, Hand.NAIL, int(chances.string[at]), velocity, faults)
    return _Played(tap, TapTruth(cause=Cause.TOUCH, target_index=target.index))


def _stray(target: Target, at: int, chances: _Chances, faults: Faults) -> _Played:
    song_s = target.song_s + target.slot_s * float(chances.stray_at[at])
    # Either hand may slip: the thumb off its own string, or the nail onto a long one.
    thumb = chances.stray_thumb[at] < 0.5
    string = DRONE if thumb else int(chances.string[at])
    tap = _tap(song_s, Hand.THUMB if thumb else Hand.NAIL, string, SOFTER_SHARE * VELOCITY, faults)
    return _Played(tap, TapTruth(cause=Cause.STRAY, target_index=None))


def _tap(song_s: float, hand: Hand, string: int, velocity: float, faults: Faults) -> Tap:
    return Tap(
        song_s=float(song_s),
        hand=None if faults.one_pad else hand,
        string=None if faults.one_pad else string,
        velocity=min(127, max(1, round(velocity))),
    )


def _in_order(
    played: list[_Played], deeds: Sequence[TargetTruth], targets: Sequence[Target]
) -> SimulatedTake:
    played = sorted(played, key=lambda p: p.tap.song_s)
    tap_of = {
        p.truth.target_index: at
        for at, p in enumerate(played)
        if p.truth.cause in (Cause.STROKE, Cause.TOUCH)
    }
    truths = []
    for deed, target in zip(deeds, targets, strict=True):
        tap_index = tap_of.get(deed.target_index)
        placement_s = None if tap_index is None else played[tap_index].tap.song_s - target.song_s
        truths.append(
            TargetTruth(
                target_index=deed.target_index,
                deed=deed.deed,
                tap_index=tap_index,
                placement_s=placement_s,
                rushed=deed.rushed,
                late_change=deed.late_change,
            )
        )
    return SimulatedTake(
        taps=tuple(p.tap for p in played),
        tap_truths=tuple(p.truth for p in played),
        target_truths=tuple(truths),
    )
