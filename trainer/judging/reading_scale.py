"""Weigh one way in which a take may have been played: lay it, fit it to the taps, and price it."""

from __future__ import annotations

import math
from collections.abc import Sequence
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
from trainer.judging.reading_search import (
    Guess,
    HeardTaps,
    told_apart,
)
from trainer.judging.take import Tap
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind

SHIFTS_OFFERED = 2  # bars either way


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


class Scale:
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
