"""Guess quickly how a take may have been played, so that only a few versions need to be weighed.

Every guess is a figure on a course, whole or by one hand, with the pads as they are or exchanged. Tempi come
from
the periodogram of the taps: at the rate of the slots sum(exp(2 pi i u / rate)) is large (the Rayleigh
statistic of circular statistics). At each tempo every figure is tried at every shift by adding up, slot by
slot, how well a tap or none suits what that figure has there; patterns that go round are folded first, so a
long take costs no more. A path through the shifts finds bars dropped or repeated (Viterbi 1967, IEEE Trans.
Inf. Theory 13:260-269, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.judging.reading_grid import Course, Segment, slots_in
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand

SLOWEST, FASTEST = 0.4, 2.5  # tempo played, as a share of the tempo asked
PEAKS = 4
LEAST_PEAK = 0.25  # of all taps in step; with less a tempo is no tempo
STEADY_PEAK = 0.8  # in step so well that no drift needs to be looked for
LARGEST_DRIFT = 0.24  # of the tempo, from first to last tap
MOST_TAPS = 400  # looked at for tempo and shift
SPREAD = 0.08  # of a slot
ANYWHERE = 0.1
SOUNDS, SILENT = 0.9, 0.9  # strokes that sound; skips and rests that are kept silent
AGREES = 0.95
JUMP_NATS = 10.0
NAIL, THUMB, QUIET, LEFT = range(4)
SWAP = np.array([THUMB, NAIL, QUIET, LEFT])
FIGURES_SHOWN = 4
FIGURES_BY_STRING = 24  # where strings are known: screening sees none, and many figures differ by them alone
SHIFTS_SHOWN = 3
ROUNDING = 1e-6  # nats: scores that differ by less are alike
LONGEST_FIGURE = 64  # slots, of figures that were not asked


@dataclass(frozen=True, slots=True)
class Guess:
    """One way in which the take may have been played."""

    pattern: Pattern
    course: Course
    exchanged: bool = False
    only: Hand | None = None
    jumps: tuple[Segment, ...] = ()
    score: float = 0.0


@dataclass(frozen=True, slots=True)
class HeardTaps:
    """The taps as the search sees them: slots of the click, and the hand as a class, -1 where unknown."""

    u: NDArray[np.float64]
    hand: NDArray[np.int64]
    knows_string: bool = False
    knows_left: bool = False

    @property
    def knows_hand(self) -> bool:
        """Whether any tap tells its hand."""
        return bool(np.any(self.hand >= 0))


def classes_of(pattern: Pattern) -> NDArray[np.int64]:
    """Return what each slot of a pass asks for, as a class."""
    by_hand = {Hand.NAIL: NAIL, Hand.THUMB: THUMB, Hand.LEFT: LEFT, Hand.NONE: QUIET}
    return np.array([by_hand[stroke.kind.hand] for stroke in pattern.strokes])


def told_apart(asked: Pattern, others: Sequence[Pattern], heard: HeardTaps) -> list[Pattern]:
    """Return the figures that taps can tell from what was asked and from each other, the first of each."""
    kept: list[Pattern] = []
    known = {_heard_as(asked, heard.knows_left)}
    for pattern in others:
        if pattern.slots_per_beat != asked.slots_per_beat or slots_in(pattern) > LONGEST_FIGURE:
            continue
        sounds = _heard_as(pattern, heard.knows_left)
        if heard.knows_string or sounds not in known:
            kept.append(pattern)
        known.add(sounds)
    return kept


def _heard_as(pattern: Pattern, knows_left: bool) -> bytes:
    """Return what a pad can tell of a figure that goes round, in its shortest form.

    Figures that differ by strings and accents only, or by how often they are written out, come to the same.
    """
    classes = classes_of(pattern)
    if not knows_left:
        classes = np.where(classes == LEFT, QUIET, classes)
    n = len(classes)
    short = next(k for k in range(1, n + 1) if n % k == 0 and np.array_equal(classes[k:], classes[: n - k]))
    return classes[:short].astype(np.int8).tobytes()


def in_step(u: NDArray[np.float64], rate: float, drift: float = 0.0) -> complex:
    """Return the mean of exp(2 pi i u / rate): its size is 1 when all taps fall on slots of that length."""
    return complex(np.mean(np.exp(2j * np.pi * _turns(u, 1 / rate, drift))))


def _turns(u: NDArray[np.float64], pace: float, drift: float) -> NDArray[np.float64]:
    """Return how many slots have gone by at each tap, for a pace that changes by ``drift`` of itself."""
    span = max(float(u[-1] - u[0]), 1.0)
    x = u - (u[0] + u[-1]) / 2
    return np.asarray(pace * (x + 0.5 * drift / span * x * x))


def tempi(u: NDArray[np.float64]) -> list[tuple[float, float]]:
    """Return likely rates, each with its drift, the clearest first; 1 without drift is always among them.

    Returns:
        Pairs of rate (length of a slot as a share of the slot asked) and drift (share by which the pace
        grows from the first tap to the last).
    """
    found = [(1.0, 0.0)]
    span = float(u[-1] - u[0])
    if len(u) < 6 or span < 4:
        return found
    paces = np.arange(SLOWEST, FASTEST, 1 / (3.0 * span))
    size = np.abs(np.exp(2j * np.pi * np.outer(paces, u - u[0])).mean(axis=1))
    for at in _peaks(size)[:PEAKS]:
        if size[at] >= LEAST_PEAK:
            found.append((1 / _sharpened(u, float(paces[at]), 1 / (3.0 * span)), 0.0))
    if float(size.max(initial=0.0)) < STEADY_PEAK:
        found += _drifting(u, span)
    top = [rate for rate, drift in found[1:3] if not drift]
    found += [(rate * by, 0.0) for rate in top for by in (0.5, 2.0) if SLOWEST <= 1 / (rate * by) <= FASTEST]
    found += [(0.5, 0.0), (2.0, 0.0)]
    return _distinct(found, span)


def _peaks(size: NDArray[np.float64]) -> list[int]:
    inner = np.flatnonzero((size[1:-1] >= size[:-2]) & (size[1:-1] > size[2:])) + 1
    return [int(at) for at in sorted(inner, key=lambda at: -size[at])]


def _sharpened(u: NDArray[np.float64], pace: float, step: float) -> float:
    paces = np.linspace(pace - step, pace + step, 17)
    size = np.abs(np.exp(2j * np.pi * np.outer(paces, u - u[0])).mean(axis=1))
    return float(paces[int(size.argmax())])


def _drifting(u: NDArray[np.float64], span: float) -> list[tuple[float, float]]:
    """Return the clearest tempo that changes evenly."""
    paces = np.arange(0.6, 1.7, 1 / (2.5 * span))
    drifts = np.arange(-LARGEST_DRIFT, LARGEST_DRIFT + 1e-9, max(0.01, 1.0 / span))
    best = (0.0, 1.0, 0.0)
    x = u - (u[0] + u[-1]) / 2
    for drift in drifts:
        if abs(drift) < 0.005:
            continue
        turned = x + 0.5 * drift / span * x * x
        size = np.abs(np.exp(2j * np.pi * np.outer(paces, turned)).mean(axis=1))
        at = int(size.argmax())
        best = max(best, (float(size[at]), 1 / float(paces[at]), float(drift)))
    return [best[1:]] if best[0] >= 2 * LEAST_PEAK else []


def _distinct(found: Sequence[tuple[float, float]], span: float) -> list[tuple[float, float]]:
    """Return the tempi that differ by more than half a slot over the whole take."""
    kept: list[tuple[float, float]] = []
    for rate, drift in found:
        if not any(abs(1 / rate - 1 / r) * span < 0.5 and abs(drift - d) * span < 1.0 for r, d in kept):
            kept.append((rate, drift))
    return kept


def screened(heard: HeardTaps, rate: float, drift: float) -> tuple[Course, NDArray[np.float64], int]:
    """Return a course through slot 0, and how well each class suits each slot of it.

    Returns:
        The course of a figure that begins at its slot 0, a table of shape (slots, 4) of log densities, and
        the slot of the table's first row.
    """
    u = heard.u
    pace = 1 / rate
    turns = _turns(u, pace, drift)
    phase = float(np.angle(np.mean(np.exp(2j * np.pi * turns)))) / (2 * np.pi)
    position = turns - phase
    k = np.round(position).astype(np.int64)
    off = position - k
    first, last = int(k.min()), int(k.max())
    n = last - first + 1
    table = np.empty((n, 4))
    table[:] = (np.log(1 - SOUNDS), np.log(1 - SOUNDS), np.log(SILENT), np.log(0.5))
    near = np.log(
        (1 - ANYWHERE) * np.exp(-0.5 * (off / SPREAD) ** 2) / (SPREAD * np.sqrt(2 * np.pi)) + ANYWHERE
    )
    rows = k - first
    count = np.bincount(rows, minlength=n)
    best = np.full((n, 2), -np.inf)
    for hand in (NAIL, THUMB):
        fits = np.where(heard.hand == hand, np.log(AGREES), np.log(1 - AGREES))
        value = near + np.where(heard.hand < 0, 0.0, fits)
        np.maximum.at(best[:, hand], rows, value)
    any_hand = np.full(n, -np.inf)
    np.maximum.at(any_hand, rows, near - np.where(heard.hand < 0, 0.0, np.log(2.0)))
    some = count > 0
    extra = (count - 1) * np.log(1 - SILENT)
    for hand in (NAIL, THUMB):
        table[some, hand] = (np.log(SOUNDS) + best[:, hand] + extra)[some]
    table[some, QUIET] = (np.log(1 - SILENT) * count)[some] - np.where(heard.knows_hand, np.log(2.0), 0.0)
    table[some, LEFT] = (np.log(0.5) + any_hand + extra)[some]
    middle = float(u[0] + u[-1]) / 2
    # Turns are counted from the middle of the take: invert them for the figure's slot 0 there.
    span = max(float(u[-1] - u[0]), 1.0)
    bend = -0.5 * drift / span * rate * rate
    return (
        Course(start=middle + phase * rate + bend * phase * phase, rate=rate + 2 * bend * phase, bend=bend),
        table,
        first,
    )


def shifted(course: Course, late: float) -> Course:
    """Return a course whose figure begins ``late`` of its own slots later: j becomes j - late."""
    return Course(
        start=course.start + course.rate * late + course.bend * late * late,
        rate=course.rate + 2 * course.bend * late,
        bend=course.bend,
    )


def folded_scores(table: NDArray[np.float64], first: int, classes: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return how well a figure that goes round suits, for each slot of its pass on which it may begin."""
    length = len(classes)
    folded = np.zeros((length, 4))
    np.add.at(folded, (first + np.arange(len(table))) % length, table)
    rows = np.arange(length)
    begins = np.arange(length)
    return np.asarray(folded[rows[None, :], classes[(rows[None, :] - begins[:, None]) % length]].sum(axis=1))


def guesses(
    heard: HeardTaps,
    asked: Pattern,
    others: Sequence[Pattern],
    *,
    rate: float,
    drift: float,
    with_others: bool,
) -> list[Guess]:
    """Return the likeliest guesses at one tempo, the best first."""
    course, table, first = screened(heard, rate, drift)
    found: list[Guess] = []
    hands = [False, True] if heard.knows_hand else [False]
    for exchanged in hands:
        found += _asked(asked, course, table, first, heard, exchanged, None)
    if rate == 1.0 and not drift:
        # Half a figure suits too much when it may also be moved about.
        for only in (Hand.NAIL, Hand.THUMB):
            one = _asked(asked, course, table, first, heard, False, only)
            found += [g for g in one if abs(g.course.start) < 0.5][:1]
    if with_others:
        shown: list[Guess] = []
        for pattern in others:
            for exchanged in hands:
                classes = SWAP[classes_of(pattern)] if exchanged else classes_of(pattern)
                scores = folded_scores(table, first, classes)
                best = float(scores.max())
                # A figure of two bars that are alike may as well begin on either: the nearer one is meant.
                begins = [
                    c
                    for at in np.flatnonzero(scores >= best - ROUNDING)
                    for c in _begins(course, int(at), slots_in(pattern), heard, asked.slots_per_bar)
                ]
                if begins:
                    nearest = min(begins, key=lambda c: abs(c.start))
                    shown.append(Guess(pattern, nearest, exchanged=exchanged, score=best))
        shown.sort(key=lambda g: -g.score)
        found += shown[: FIGURES_BY_STRING if heard.knows_string else FIGURES_SHOWN]
    return sorted(found, key=lambda g: -g.score)


def _asked(
    asked: Pattern,
    course: Course,
    table: NDArray[np.float64],
    first: int,
    heard: HeardTaps,
    exchanged: bool,
    only: Hand | None,
) -> list[Guess]:
    classes = classes_of(asked)
    if only is not None:
        other = THUMB if only is Hand.NAIL else NAIL
        if not np.any(classes == other) or not np.any(classes == (NAIL if only is Hand.NAIL else THUMB)):
            return []
        classes = np.where(classes == other, QUIET, classes)
    if exchanged:
        classes = SWAP[classes]
    scores = folded_scores(table, first, classes)
    order = np.argsort(-scores)[: SHIFTS_SHOWN if only is None else len(scores)]
    found = []
    for at in order:
        for c in _begins(course, int(at), len(classes), heard, asked.slots_per_bar):
            found.append(Guess(asked, c, exchanged=exchanged, only=only, score=float(scores[at])))
    return found


def _begins(course: Course, at: int, length: int, heard: HeardTaps, bar: int) -> list[Course]:
    """Return the courses that begin on one slot of a pass, the begin within two bars of the click's.

    A figure that goes round may have begun one round sooner or later; one that is longer than that may have
    been begun in its middle.
    """
    reach = 2 * bar + 0.6
    found = []
    nearest = round(-course.start / course.rate / length) if course.rate else 0
    for rounds in range(nearest - 6, nearest + 7):
        moved = shifted(course, at + rounds * length)
        if moved.rate > 0.1 and abs(moved.start) <= reach:
            found.append(moved)
    if not found:
        for rounds in range(nearest - 6, nearest + 7):
            moved = shifted(course, at + rounds * length)
            if moved.rate > 0.1 and moved.start <= float(heard.u[0]) + 0.6:
                found = [moved]
    return sorted(found, key=lambda c: abs(c.start))[:3]


def jumping(heard: HeardTaps, asked: Pattern, *, exchanged: bool) -> list[Guess]:
    """Return the likeliest path through shifts of up to two bars, at the tempo asked; none without a jump.

    In a figure of two bars one bar too many and one too few look alike but at the end: both are returned.
    """
    course, table, first = screened(heard, 1.0, 0.0)
    base = round(course.start)
    course = Course(start=course.start - base)
    classes = SWAP[classes_of(asked)] if exchanged else classes_of(asked)
    length, bar = len(classes), asked.slots_per_bar
    lates = np.arange(-2 * bar, 2 * bar + 1)
    slots = first + base + np.arange(len(table))
    fits = table[np.arange(len(table))[:, None], classes[(slots[:, None] - lates[None, :]) % length]]
    # Before the figure's own begin nothing is asked.
    fits = np.where(slots[:, None] - lates[None, :] < 0, table[:, [QUIET]], fits)
    whole_bars = lates % bar == 0
    cost = np.full(len(lates), JUMP_NATS + np.log(len(lates)))
    cost[whole_bars] = JUMP_NATS
    best = np.where(lates == 0, 0.0, -cost)
    came = np.zeros(fits.shape, dtype=np.int64)
    for at in range(len(fits)):
        leader = int(best.argmax())
        stay = best
        leap = best[leader] - cost
        jumps = leap > stay
        came[at] = np.where(jumps, leader, np.arange(len(lates)))
        best = np.where(jumps, leap, stay) + fits[at]
    path = [int(best.argmax())]
    for at in range(len(fits) - 1, 0, -1):
        path.append(int(came[at][path[-1]]))
    path.reverse()
    segments = [Segment(float(slots[0]), int(lates[path[0]]))]
    for at in range(1, len(path)):
        if path[at] != path[at - 1]:
            segments.append(Segment(float(slots[at]), int(lates[path[at]])))
    if len(segments) == 1:
        return []
    *early, last = segments
    ends = [last.late + rounds * length for rounds in (-1, 0, 1)]
    return [
        Guess(
            asked,
            course,
            exchanged=exchanged,
            jumps=(*early, Segment(last.since, late)),
            score=float(best.max()),
        )
        for late in ends
        if abs(late) <= 2 * bar and late != early[-1].late
    ]
