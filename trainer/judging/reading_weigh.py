"""Weigh a take against all the ways in which it may have been played.

A learner who is one bar late, at another tempo or on exchanged pads has not missed and touched what a judge
finds who knows of one grid only. So a take is held against several versions of what may have been played
(:mod:`trainer.judging.reading_search` guesses them, :mod:`trainer.judging.reading_fit` weighs them), and
the best is taken: what was asked, unless another gains ``MARGIN_NATS``.

The margin: of twenty takes about one is played otherwise, and there are about a hundred ways to do so, so
each has prior odds of 1 : 2000, log 2000 = 7.6; and to say it wrongly is worse than not to say it, by odds
of 10 : 1, log 10 = 2.3. Together 9.9. (Kass & Raftery 1995, JASA 90:773-795, call 5 nats very strong; from
memory.)
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trainer.judging.matching import Touch, match, touch_of
from trainer.judging.reading_fit import (
    MAD_TO_SD,
    Fit,
    Version,
    fit,
    freedom,
    priced_version,
    weigh,
)
from trainer.judging.reading_grid import Asked, Course, FigureLaying, Grid
from trainer.judging.reading_loose import without_figure
from trainer.judging.reading_search import (
    FIGURES_BY_STRING,
    MOST_TAPS,
    Guess,
    HeardTaps,
    guesses,
    jumping,
    tempi,
    told_apart,
)
from trainer.judging.take import Tap
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind

MARGIN_NATS = 10.0
SHIFTS_OFFERED = 2  # bars either way
NEAR_BEST = 60.0  # nats of the quick look: what lies further behind is not weighed
MOST_WEIGHED = 8
LEAST_MOVED = 0.4  # of a slot: a tempo that moves less over the take is a drift
LEAST_HITS = 5  # strokes; fewer tell of no way of playing
LONG_TAKE = 1500  # taps; longer ones are looked at in their beginning
LONG_SPAN = 2500  # slots, the same
LOOKED_AT = 600  # slots looked at for tempo and shift
EVEN_ROW = 10.0  # nats that another figure must gain over a row of even taps by one hand
UNEXPLAINED = 8.0  # nats that taps of no figure must gain over the figure asked, however played
UNEXPLAINED_OTHER = 3.0  # and over another


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One version, weighed.

    Attributes:
        guess: the way of playing.
        version: its strokes; those before ``first`` and after ``last`` of the figure were not played.
        fit: how well the taps fit.
        nats: of the fit, less the price of every choice.
        begun: bars before the first stroke played; ended: bars after the last.
    """

    guess: Guess
    version: Version
    fit: Fit
    nats: float
    begun: int = 0
    ended: int = 0

    @property
    def is_plain(self) -> bool:
        """Whether this is what was asked, all of it, on its own grid."""
        g = self.guess
        return (
            not g.exchanged
            and g.only is None
            and not g.jumps
            and g.course.rate == 1.0
            and not g.course.bend
            and g.course.start == 0.0
            and not self.begun
            and not self.ended
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """All that was weighed for a take.

    Attributes:
        best: the version that holds; None when nothing fits or nothing was played.
        as_asked: what was asked, weighed.
        margin: nats by which what holds is better than the best other way (negative when what was asked is
            kept although another gains a little).
        taps_a_second: of a take that nothing fits.
        even: whether its taps come in an even row.
    """

    best: Weighed | None
    as_asked: Weighed
    margin: float
    taps_a_second: float = 0.0
    even: bool = False


class _Scale:
    """Weighs versions of one take against each other."""

    def __init__(self, asked: Asked, taps: Sequence[Tap], others: Sequence[Pattern]) -> None:
        self.asked = asked
        self.before = _needed(asked.pattern, others)
        different = [p for p in others if p.name != asked.pattern.name]
        # Of figures that no pad can tell apart the one that comes before is meant, else the first.
        ranked = sorted(different, key=lambda p: (p.name not in self.before, p.step))
        self.touches = [touch_of(tap) for tap in taps]
        self.exchanged = [replace_hand(touch) for touch in self.touches]
        self.grid = Grid(asked.timeline, asked.pattern.slots_per_beat)
        times_s = np.array([touch.at_us / 1e6 for touch in self.touches])
        u = self.grid.slots(times_s)
        codes = {Hand.NAIL: 0, Hand.THUMB: 1}
        hands = np.array([codes.get(t.hand, -1) if t.hand is not None else -1 for t in self.touches])
        named = any(t.string is not None for t in self.touches)
        self.heard = HeardTaps(u, hands, named, asked.knows_left)
        self.others = told_apart(asked.pattern, ranked, self.heard)
        self.layer = FigureLaying(asked, self.grid, float(u[-1]))
        end_s = float(self.grid.seconds(np.array([self.layer.end_u]))[0])
        start_s, last_s = min(0.0, float(times_s[0])), max(float(times_s[-1]), end_s)
        self.seconds = last_s - start_s + 2 * self.grid.slot_s
        self.n = len(taps)
        bar = asked.pattern.slots_per_bar
        self.bars = max(2.0, self.layer.end_u / bar)
        self.shifts = 2 * SHIFTS_OFFERED * bar + 1

    @property
    def is_one_hand(self) -> bool:
        """Whether all taps come from one hand, or none tells its hand."""
        return len(set(self.heard.hand.tolist())) == 1

    def weigh(self, guess: Guess) -> Weighed:
        """Weigh one guess: lay it, pair the taps with it, and take off the price of its choices."""
        touches = self.exchanged if guess.exchanged else self.touches
        course = guess.course
        if course.rate != 1.0 or course.bend:
            course = self._refined(guess, touches)
            guess = replace(guess, course=course)
        version = self.layer.version(guess.pattern, course, jumps=guess.jumps, only=guess.only)
        found = self._fit(version, touches)
        nats = found.nats - self.price(guess)
        return self.trimmed(Weighed(guess=guess, version=version, fit=found, nats=nats), touches)

    def price(self, guess: Guess) -> float:
        """Return the price of all choices of a guess, in nats."""
        course, nats = guess.course, 0.0
        if course.rate != 1.0 or course.bend:
            nats += freedom(self.n) + math.log(2)
        if course.bend:
            nats += freedom(self.n)
        if abs(course.start) >= 0.5:
            nats += math.log(self.shifts)
        if guess.exchanged:
            nats += math.log(2)
        if guess.only is not None:
            nats += math.log(3)
        if guess.pattern.name != self.asked.pattern.name:
            first = guess.pattern.name in self.before
            nats += math.log(2 * max(1, len(self.before) if first else len(self.others)))
        for before, after in zip((None, *guess.jumps), guess.jumps, strict=False):
            if before is not None:
                moved = after.late - before.late
                whole = moved % self.asked.pattern.slots_per_bar == 0
                nats += math.log(self.bars) + math.log(4 if whole else self.shifts)
        if guess.jumps and guess.jumps[0].late:
            nats += math.log(self.shifts)
        return nats

    def _fit(self, version: Version, touches: Sequence[Touch]) -> Fit:
        return fit(
            version,
            touches,
            seconds=self.seconds,
            beat_s=self.grid.beat_s,
            knows_left=self.asked.knows_left,
        )

    def _refined(self, guess: Guess, touches: Sequence[Touch]) -> Course:
        """Lay a line, or a bow where the tempo drifts, through the taps that a guess pairs."""
        course = guess.course
        degree = 2 if course.bend else 1
        for _ in range(2):
            version = self.layer.version(guess.pattern, course, only=guess.only)
            priced = priced_version(version, knows_left=self.asked.knows_left)
            pairs = match(priced, touches)
            spb = version.slots_per_beat
            found = [
                (float(t.beat) * spb, self.heard.u[at])
                for t, at in zip(version.targets, pairs, strict=True)
                if at is not None and t.stroke.kind is not Kind.SKIP
            ]
            if len(found) < 6:
                return course
            j, u = np.array([f[0] for f in found]), np.array([f[1] for f in found])
            kept = np.ones(len(j), dtype=bool)
            line = np.array([course.bend, course.rate, course.start][-degree - 1 :])
            for _ in range(3):
                line = np.polyfit(j[kept], u[kept], degree)
                off = np.abs(u - np.polyval(line, j))
                kept = off <= max(3.5 * MAD_TO_SD * float(np.median(off)), 0.05)
            start, rate = float(line[-1]), float(line[-2])
            course = Course(start=start, rate=rate, bend=float(line[0]) if degree == 2 else 0.0)
            if not 0.2 <= course.rate <= 4.0:
                return guess.course
        return course

    def trimmed(self, weighed: Weighed, touches: Sequence[Touch]) -> Weighed:
        """Return the same without the bars at either end in which nothing was played, if that is better."""
        version, pairs = weighed.version, weighed.fit.pairs
        bar = self.asked.pattern.slots_per_bar
        sounding = [at for at, t in enumerate(version.targets) if t.stroke.kind.sounds]
        played = [at for at in sounding if pairs[at] is not None]
        if not played:
            return weighed
        spb = version.slots_per_beat
        j = [float(t.beat) * spb for t in version.targets]
        begun = (j[played[0]] - j[sounding[0]]) / bar
        ended = (j[sounding[-1]] - j[played[-1]]) / bar
        first = played[0] if begun >= 0.9 else 0
        last = played[-1] + 1 if ended >= 0.9 else len(pairs)
        if first == 0 and last == len(pairs):
            return weighed
        part = Version(
            targets=version.targets[first:last],
            at_s=version.at_s[first:last],
            rate=version.rate,
            slots_per_beat=spb,
            copies=frozenset(c - first for c in version.copies if first <= c < last),
        )
        found = weigh(
            part,
            priced_version(part, knows_left=self.asked.knows_left),
            touches,
            pairs[first:last],
            weighed.fit.constant_s,
            seconds=self.seconds,
            beat_s=self.grid.beat_s,
            knows_left=self.asked.knows_left,
        )
        edges = (first > 0) + (last < len(pairs))
        nats = found.nats - self.price(weighed.guess) - edges * (math.log(self.bars) + math.log(2))
        if nats <= weighed.nats:
            return weighed
        return Weighed(
            guess=weighed.guess,
            version=part,
            fit=found,
            nats=nats,
            begun=round(begun) if first else 0,
            ended=round(ended) if last < len(pairs) else 0,
        )

    def plain(self) -> Weighed:
        """Weigh what was asked, all of it."""
        guess = Guess(self.asked.pattern, Course())
        version = self.layer.version(guess.pattern, guess.course)
        found = self._fit(version, self.touches)
        return Weighed(guess=guess, version=version, fit=found, nats=found.nats)


def _needed(pattern: Pattern, others: Sequence[Pattern]) -> set[str]:
    """Return the names of all figures that come before one, near and far."""
    needs = {p.name: p.needs for p in others}
    found: set[str] = set()
    ahead = list(pattern.needs)
    while ahead:
        name = ahead.pop()
        if name not in found and name != pattern.name:
            found.add(name)
            ahead += needs.get(name, ())
    return found


def replace_hand(touch: Touch) -> Touch:
    """Return a touch as if nail and thumb had been exchanged."""
    other = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL}
    hand = touch.hand if touch.hand is None else other.get(touch.hand, touch.hand)
    return Touch(touch.at_us, hand, touch.string)


def weigh_take(asked: Asked, taps: Sequence[Tap], others: Sequence[Pattern] = ()) -> Weighing:
    """Weigh a take against all the ways in which it may have been played; see :func:`weighing_steps`."""
    *_, last = weighing_steps(asked, taps, others)
    assert last is not None
    return last


def taps_weighed(asked: Asked, taps: Sequence[Tap]) -> int:
    """Return how many taps, from the first on, are weighed: not all of a long take, or one mostly silent."""
    grid = Grid(asked.timeline, asked.pattern.slots_per_beat)
    slots = grid.slots(np.array([tap.song_s for tap in taps[:LONG_TAKE]]))
    return int(np.searchsorted(slots, slots[0] + LONG_SPAN, side="right"))


def weighing_steps(
    asked: Asked, taps: Sequence[Tap], others: Sequence[Pattern] = ()
) -> Iterator[Weighing | None]:
    """Weigh a take in steps of a few milliseconds, for a caller who has a picture to draw in between.

    Args:
        taps: in order of time, at least one.
        others: figures that may have been played instead; those that come before it count as likelier.

    Yields:
        None until the last step, then the weighing.
    """
    weighed = taps[: taps_weighed(asked, taps)]
    if len(weighed) < len(taps):
        taps = weighed
        asked = replace(asked, until_s=min(asked.until_s or math.inf, taps[-1].song_s))
    scale = _Scale(asked, taps, others)
    yield None
    plain = scale.plain()
    found: list[Weighed] = [scale.trimmed(plain, scale.touches)]
    yield None
    likely: list[Guess] = []
    for chosen in _likely(scale):
        likely = chosen
        yield None
    for guess in likely:
        found.append(scale.weigh(guess))
        yield None
    yield _weighed(scale, plain, [w for w in found if _is_told_apart(w) and w.fit.hits >= LEAST_HITS])


def _weighed(scale: _Scale, plain: Weighed, found: Sequence[Weighed]) -> Weighing:
    """Return what holds of all that was weighed."""
    asked = scale.asked
    best = max(found, key=lambda w: w.nats, default=plain)
    loose, even = without_figure(scale.touches, scale.seconds)
    another = best.guess.pattern.name != asked.pattern.name
    # An even row by one hand is some figure or other; to name one would be a guess.
    loose += (
        EVEN_ROW
        if even and another and scale.is_one_hand
        else -(UNEXPLAINED_OTHER if another else UNEXPLAINED)
    )
    others_nats = [w.nats for w in found if not _same_way(w, plain) or w.begun or w.ended]
    if loose > best.nats and loose > plain.nats + MARGIN_NATS:
        span_s = (scale.touches[-1].at_us - scale.touches[0].at_us) / 1e6
        rate = (scale.n - 1) / span_s if span_s > 0 else float(scale.n)
        return Weighing(best=None, as_asked=plain, margin=loose - best.nats, taps_a_second=rate, even=even)
    if best.nats <= plain.nats + MARGIN_NATS:
        return Weighing(best=plain, as_asked=plain, margin=plain.nats - max([*others_nats, loose]))
    rest = [w.nats for w in found if w is not best and not _same_way(w, best)]
    return Weighing(best=best, as_asked=plain, margin=best.nats - max([*rest, loose, plain.nats]))


def _same_way(one: Weighed, other: Weighed) -> bool:
    a, b = one.guess, other.guess
    return (
        a.pattern.name == b.pattern.name
        and a.exchanged == b.exchanged
        and a.only == b.only
        and abs(a.course.start - b.course.start) < 0.5
        and abs(a.course.rate - b.course.rate) < 0.02
    )


def _likely(scale: _Scale) -> Iterator[list[Guess]]:
    """Look for the guesses worth weighing, tempo by tempo; the last list holds them."""
    heard = scale.heard
    asked, others = scale.asked.pattern, scale.others
    n = min(MOST_TAPS, int(np.searchsorted(heard.u, heard.u[0] + LOOKED_AT, side="right")))
    part = replace(heard, u=heard.u[:n], hand=heard.hand[:n])
    found: list[Guess] = []
    for at, (rate, drift) in enumerate(tempi(part.u)):
        here = guesses(part, asked, others, rate=rate, drift=drift, with_others=at <= 1)
        # Scores are densities in the figure's own slots; those of two tempi compare in the click's slots.
        found += [replace(g, score=g.score - len(part.u) * math.log(rate)) for g in here]
        yield []
    found.sort(key=lambda g: -g.score)
    near = [g for g in found if g.score >= found[0].score - NEAR_BEST]
    chosen = [g for g in near if g.pattern is asked and g.only is None][:MOST_WEIGHED]
    most = FIGURES_BY_STRING if heard.knows_string else MOST_WEIGHED // 2
    chosen += [g for g in near if g.pattern is not asked][:most]
    chosen += [g for g in found if g.only is not None][:1]
    for exchanged in [False, True] if heard.knows_hand else [False]:
        chosen += jumping(part, asked, exchanged=exchanged)
    yield chosen


def _is_told_apart(weighed: Weighed) -> bool:
    """Return whether a tempo differs so much from what was asked that it is one, not a drift."""
    course = weighed.guess.course
    if course.rate == 1.0 and not course.bend:
        return True
    j = [float(t.beat) * weighed.version.slots_per_beat for t in weighed.version.targets]
    if not j:
        return False
    along = np.array([j[0], (j[0] + j[-1]) / 2, j[-1]])
    moved = course.at(along) - along
    return float(moved.max() - moved.min()) >= LEAST_MOVED
