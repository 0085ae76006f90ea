"""Play takes that leave the grid, and ordinary ones that do not, and print how they are read.

Run it with: python -m tests.benchmarks.reading_study --takes 500
Tempo 100, middle pocket, at least 60 strokes, jitter 12 ms unless a row says other. For each deed: how often
its reading is the right one, and how often something else is blamed (advised, or another reading given); each
figure, with hands known and with one pad. Below stands the table of what was played against what was read.
"""

from __future__ import annotations

import argparse
import math
import time
import zlib
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from trainer.judging.advice import Finding, advise
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.judging.readings import ReadingKind
from trainer.judging.take import Judgement, Tap
from trainer.judging.wording import Fault
from trainer.music.layout import Feel, Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.records.library import load_library, open_pattern

LIBRARY = load_library()
BPM = 100
SEED = 14
STROKES = 60
FIGURES = (
    "basic-figure", "skip-figure", "one-basic-one-skip", "drop-thumb-in-basic-figure", "three-basic-one-skip",
    "in-three", "skip-on-the-second-beat", "barn-lantern at skips", "the-ferry-bell at ornaments",
)  # fmt: skip
EVERY = (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB)
K = ReadingKind
STEADY = Faults(jitter_s=0.012)
WAVE_S = 4.0
SWING = Feel(swing=Fraction(13, 10))
LEAST_SEEN = 6  # strokes that must differ before a bar more or less can be seen
GOAL_RIGHT, GOAL_BLAMED = 0.95, 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """One take to be played: what is asked, and where chance comes from."""

    pattern: Pattern
    timeline: Timeline
    targets: tuple[Target, ...]
    passes: int
    faults: Faults
    rng: np.random.Generator

    @property
    def slot_s(self) -> float:
        """Length of a slot in seconds."""
        return self.targets[0].slot_s

    @property
    def bar_s(self) -> float:
        """Length of a bar in seconds."""
        return self.slot_s * self.pattern.slots_per_bar

    def taps(self, pattern: Pattern | None = None, feel: Feel | None = None) -> list[Tap]:
        """Play this or another figure over the same time, swung or not; no pad tells strings."""
        targets = self.targets
        if pattern is not None or feel is not None:
            chosen = pattern or self.pattern
            passes = max(1, len(self.targets) // len(chosen.strokes))
            targets = lay_out(chosen, self.timeline, passes=passes, feel=feel or Feel())
        return [replace(tap, string=None) for tap in simulate(targets, self.faults, self.rng).taps]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A deed, the readings that are right for it, and for whom it is played."""

    name: str
    play: Callable[[Play], list[Tap]]
    right: tuple[ReadingKind, ...]
    faults: Faults = STEADY
    hands_only: bool = False
    may_be_advised: bool = False
    figures: tuple[str, ...] = FIGURES


def later(share: float, of: str = "slot") -> Callable[[Play], list[Tap]]:
    """Return a deed that plays everything later by a share of a slot, beat or bar, or of a second."""

    def play(p: Play) -> list[Tap]:
        unit = {"slot": p.slot_s, "beat": p.slot_s * p.pattern.slots_per_beat, "bar": p.bar_s, "s": 1.0}[of]
        return [replace(tap, song_s=tap.song_s + share * unit) for tap in p.taps()]

    return play


def at_tempo(share: float, *, lag_s: float = 0.0) -> Callable[[Play], list[Tap]]:
    """Return a deed that plays at a share of the tempo asked, and late by a constant."""
    return lambda p: [replace(tap, song_s=tap.song_s / share + lag_s) for tap in p.taps()]


def drifting(by: float) -> Callable[[Play], list[Tap]]:
    """Return a deed whose tempo grows by a share from the first stroke to the last."""

    def play(p: Play) -> list[Tap]:
        span = p.targets[-1].song_s
        return [replace(t, song_s=t.song_s - by / 2 * t.song_s**2 / span) for t in p.taps()]

    return play


def exchanged(taps: Sequence[Tap]) -> list[Tap]:
    """Return taps of exchanged pads."""
    other: dict[Hand | None, Hand | None] = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL}
    return [replace(tap, hand=other.get(tap.hand, tap.hand)) for tap in taps]


def bar_of_middle(p: Play) -> tuple[float, float]:
    """Return begin and end of a bar in the middle, where the bar after it differs, in seconds."""
    bars = len(p.pattern.bars)
    hands = [tuple(s.kind.hand for s in bar) for bar in p.pattern.bars]
    first = p.passes // 2 * bars
    for at in range(first, first + bars):
        if hands[at % bars] != hands[(at + 1) % bars]:
            return at * p.bar_s - p.slot_s / 2, (at + 1) * p.bar_s - p.slot_s / 2
    return first * p.bar_s - p.slot_s / 2, (first + 1) * p.bar_s - p.slot_s / 2


def bar_dropped(p: Play) -> list[Tap]:
    """Leave a bar out and go on at once."""
    since, until = bar_of_middle(p)
    return [
        tap if tap.song_s < since else replace(tap, song_s=tap.song_s - p.bar_s)
        for tap in p.taps()
        if not since <= tap.song_s < until
    ]


def bar_repeated(p: Play) -> list[Tap]:
    """Play a bar twice and go on."""
    since, until = bar_of_middle(p)
    taps = p.taps()
    again = [tap for tap in taps if since <= tap.song_s < until]
    after = [replace(tap, song_s=tap.song_s + p.bar_s) for tap in taps if tap.song_s >= since]
    return [tap for tap in taps if tap.song_s < since] + again + after


def wave(p: Play) -> list[Tap]:
    """Play with a clock that goes 2 % too fast and too slow in turn, every four seconds: 13 ms either way."""
    size_s = 0.02 * WAVE_S / (2 * math.pi)
    start = float(p.rng.uniform(0, 2 * math.pi))
    return [
        replace(t, song_s=t.song_s + size_s * math.sin(2 * math.pi * t.song_s / WAVE_S + start))
        for t in p.taps()
    ]


def even_row(step_s: float) -> Callable[[Play], list[Tap]]:
    """Return a deed that taps an even row with one hand, whatever is asked."""

    def play(p: Play) -> list[Tap]:
        n = int(p.targets[-1].song_s / step_s)
        hand = None if p.faults.one_pad else Hand.NAIL
        jitter = p.rng.normal(0, min(0.010, step_s / 20), n)
        return [Tap(song_s=k * step_s + float(jitter[k]), hand=hand) for k in range(n)]

    return play


def anywhere(p: Play) -> list[Tap]:
    """Tap anywhere, with either hand."""
    n = len(p.taps())
    hands = [None, None] if p.faults.one_pad else [Hand.NAIL, Hand.THUMB]
    end_s = p.targets[-1].song_s
    return [Tap(song_s=float(s), hand=hands[int(p.rng.integers(2))]) for s in p.rng.uniform(0, end_s, n)]


def only(hand: Hand) -> Callable[[Play], list[Tap]]:
    """Return a deed that plays the strokes of one hand."""
    return lambda p: [tap for tap in p.taps() if tap.hand is hand]


def instead(name: str) -> Callable[[Play], list[Tap]]:
    """Return a deed that plays another figure."""
    return lambda p: p.taps(open_pattern(name, LIBRARY))


def rows() -> tuple[Row, ...]:
    """Return all deeds."""
    half = lambda p: p.targets[-1].song_s / 2  # noqa: E731
    skips = ("skip-figure", "one-basic-one-skip", "three-basic-one-skip", "skip-on-the-second-beat")
    drops = ("skip-figure", "one-basic-one-skip", "drop-thumb-in-basic-figure")
    lead = tuple((k, -0.040) for k in Kind if k.sounds)
    tempo = [
        Row(name=f"tempo {100 * s:.0f} %", play=at_tempo(s), right=(K.OTHER_TEMPO,))
        for s in (0.95, 0.98, 1.02, 1.05, 0.8, 1.2)
    ]
    ordinary = [
        ("as asked", Faults(jitter_s=0.012), FIGURES),
        ("jitter 25 ms", Faults(jitter_s=0.025), FIGURES),
        ("10 % missed, jitter 20 ms", Faults(jitter_s=0.020, miss=0.1), FIGURES),
        (
            "15 % of skips touched, gap rushed 60 ms",
            Faults(jitter_s=0.012, touch_skips=0.15, rush_gap_s=0.06),
            skips,
        ),
        ("gap rushed 150 ms", Faults(jitter_s=0.012, rush_gap_s=0.15), skips),
        ("drop-thumb 40 ms early", Faults(jitter_s=0.012, lean_s=((Kind.DROP_THUMB, -0.04),)), drops),
        ("brush laid back 20 ms", Faults(jitter_s=0.012, lean_s=((Kind.BRUSH, 0.02),)), FIGURES),
        ("40 ms ahead", Faults(jitter_s=0.012, lean_s=lead), FIGURES),
        ("own clock 8 ms, motor 4 ms", Faults(clock_sd_s=0.008, motor_sd_s=0.004), FIGURES),
        ("pads bounce 5 %, strays 3 %", Faults(jitter_s=0.012, double=0.05, stray=0.03), FIGURES),
        ("10 % by the wrong hand", Faults(jitter_s=0.012, wrong_hand=0.1), FIGURES),
    ]
    plain = [
        Row(name=n, play=lambda p: p.taps(), right=(K.AS_ASKED,), faults=f, figures=on,
            may_be_advised=n not in ("as asked", "40 ms ahead", "own clock 8 ms, motor 4 ms"))
        for n, f, on in ordinary
    ]  # fmt: skip
    return (
        *plain,
        Row(name="clock waves by 2 %", play=wave, right=(K.AS_ASKED,), faults=Faults(jitter_s=0.008)),
        *tempo,
        Row(name="tempo 103 % and 100 ms late", play=at_tempo(1.03, lag_s=0.1), right=(K.OTHER_TEMPO,)),
        Row(name="half time", play=at_tempo(0.5), right=(K.HALF_TIME,)),
        Row(name="double time", play=at_tempo(2.0), right=(K.DOUBLE_TIME,)),
        Row(name="speeds up by 10 %", play=drifting(0.1), right=(K.DRIFTING_TEMPO,)),
        Row(name="250 ms late", play=later(0.25, "s"), right=(K.LATE,)),
        Row(name="130 ms late", play=later(0.13, "s"), right=(K.LATE,)),
        Row(name="a slot late", play=later(1), right=(K.SLOT_LATE,)),
        Row(name="a slot early", play=later(-1), right=(K.SLOT_EARLY,)),
        Row(name="a beat late", play=later(1, "beat"), right=(K.BEAT_LATE,)),
        Row(name="a bar late", play=later(1, "bar"), right=(K.BAR_LATE,)),
        Row(name="a bar early", play=later(-1, "bar"), right=(K.BAR_EARLY,)),
        Row(name="two bars late", play=later(2, "bar"), right=(K.TWO_BARS_LATE,)),
        Row(name="a bar dropped", play=bar_dropped, right=(K.BAR_DROPPED,)),
        Row(name="a bar repeated", play=bar_repeated, right=(K.BAR_REPEATED,)),
        Row(name="begun half-way", play=lambda p: [t for t in p.taps() if t.song_s > half(p)],
            right=(K.BEGUN_LATE,)),
        Row(name="stopped half-way", play=lambda p: [t for t in p.taps() if t.song_s < half(p)],
            right=(K.STOPPED_EARLY,)),
        Row(name="pads exchanged", play=lambda p: exchanged(p.taps()), right=(K.PADS_EXCHANGED,),
            hands_only=True),
        Row(name="a bar late, pads exchanged", play=lambda p: exchanged(later(1, "bar")(p)),
            right=(K.BAR_LATE, K.PADS_EXCHANGED), hands_only=True),
        Row(name="only the nail", play=only(Hand.NAIL), right=(K.ONE_HAND_ONLY,), hands_only=True),
        Row(name="only the thumb", play=only(Hand.THUMB), right=(K.ONE_HAND_ONLY,), hands_only=True),
        Row(name="the basic figure instead", play=instead("basic-figure"), right=(K.ANOTHER_FIGURE,),
            figures=(*drops, "skip-on-the-second-beat")),
        Row(name="the skip figure instead", play=instead("skip-figure"), right=(K.ANOTHER_FIGURE,),
            figures=("basic-figure", "one-basic-one-skip", "drop-thumb-in-basic-figure")),
        Row(name="swung 1.3 to 1", play=lambda p: p.taps(feel=SWING), right=(K.SWUNG,)),
        Row(name="20 taps a second", play=even_row(0.05), right=(K.NOTHING_FITS,)),
        Row(name="a tap on every slot", play=lambda p: even_row(p.slot_s)(p), right=(K.NOTHING_FITS,)),
        Row(name="taps anywhere", play=anywhere, right=(K.NOTHING_FITS,)),
    )  # fmt: skip


def invisible(row: Row, pattern: Pattern, passes: int) -> bool:
    """Return whether a deed can hardly be seen: a bar more or less where one bar is much like the next."""
    hands = [stroke.kind.hand for stroke in pattern.strokes]
    shifted = hands[pattern.slots_per_bar :] + hands[: pattern.slots_per_bar]
    differ = sum(1 for a, b in zip(hands, shifted, strict=True) if a is not b)
    return row.right[0] in (K.BAR_DROPPED, K.BAR_REPEATED) and differ * passes / 2 < LEAST_SEEN


@dataclass(slots=True)
class Tally:
    """What was counted for one row."""

    n: int = 0
    right: int = 0
    blamed: int = 0
    read: Counter[str] = field(default_factory=Counter)
    advised: Counter[str] = field(default_factory=Counter)
    worst: dict[str, list[int]] = field(default_factory=dict)


def judged(p: Play, taps: Sequence[Tap], *, known: bool = True) -> Judgement:
    """Read and judge a take as the program does."""
    asked = Asked(
        pattern=p.pattern,
        timeline=p.timeline,
        passes=p.passes if known else None,
        knows_left=not p.faults.one_pad,
    )
    return reading_of(asked, p.targets, taps, others=LIBRARY.patterns)


def passes_of(pattern: Pattern) -> int:
    """Return the passes that hold enough strokes, at least two."""
    return max(2, -(-STROKES // sum(1 for s in pattern.strokes if s.kind.sounds)))


def as_played(name: str) -> tuple[Pattern, int]:
    """Return a figure and its passes in this study."""
    pattern = open_pattern(name, LIBRARY)
    return pattern, passes_of(pattern)


def limits(found: Judgement) -> list[Finding]:
    """The advice without the reading itself."""
    return [finding for finding in advise(found) if finding.fault is not Fault.READING]


def count(row: Row, name: str, one_pad: bool, n: int, tally: Tally) -> None:
    """Play a row ``n`` times with one figure."""
    pattern, passes = as_played(name)
    timeline = Timeline.steady(Fraction(BPM))
    targets = lay_out(pattern, timeline, passes=passes)
    missed = 0
    # Rows of their own chance: else one unlucky take would be blamed in all of them.
    own = zlib.crc32(f"{row.name} {name} {one_pad}".encode())
    for k in range(n):
        p = Play(
            pattern=pattern,
            timeline=timeline,
            targets=targets,
            passes=passes,
            faults=replace(row.faults, one_pad=one_pad),
            rng=np.random.default_rng([SEED, own, k]),
        )
        found = judged(p, row.play(p))
        assert found.reading is not None
        kind = found.reading.kind
        right = kind in row.right
        advised = [] if row.may_be_advised else limits(found)
        tally.n += 1
        tally.right += right
        tally.blamed += bool(advised) or not right
        tally.read[kind.value] += 1
        tally.advised.update(f.fault.value for f in advised)
        missed += bool(advised) or not right
    tally.worst[f"{name}{', one pad' if one_pad else ''}"] = [missed, n]


def study(takes: int, only_rows: str | None, only_figure: str | None) -> None:
    """Print the table and the confusions."""
    started = time.perf_counter()
    confusion: dict[str, Counter[str]] = {}
    for row in rows():
        if only_rows is not None and only_rows not in row.name:
            continue
        tally = Tally()
        played = [
            (name, one_pad)
            for name in row.figures
            if only_figure in (None, name) and not invisible(row, *as_played(name))
            for one_pad in ([False] if row.hands_only else [False, True])
        ]
        for name, one_pad in played:
            count(row, name, one_pad, -(-takes // len(played)), tally)
        if not tally.n:
            continue
        confusion[row.name] = tally.read
        right, blamed = tally.right / tally.n, tally.blamed / tally.n
        name, (bad, n) = max(tally.worst.items(), key=lambda each: each[1][0] / each[1][1])
        mark = "reached" if right >= GOAL_RIGHT and blamed <= GOAL_BLAMED else "MISSED"
        why = ", ".join(f"{w} {c}" for w, c in tally.advised.most_common(2))
        shares = f"{100 * right:6.1f} % right {100 * blamed:5.1f} % blamed of {tally.n:>5}"
        worst = f"worst: {bad}/{n} {name}{' | ' + why if why else ''}"
        print(f"{row.name:<42} {shares}  {mark}  {worst}", flush=True)
    print("\nWhat was played, and what was read:")
    for name, read in confusion.items():
        total = sum(read.values())
        print(f"  {name:<42} " + ", ".join(f"{kind} {100 * c / total:.1f}" for kind, c in read.most_common()))
    print(f"{time.perf_counter() - started:.0f} s")


def main() -> None:
    """Read the options and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument(
        "--takes", type=int, default=500, help="takes for each row, over its figures and pads"
    )
    parser.add_argument("--row", help="only rows whose name holds this")
    parser.add_argument("--figure", help="only this figure")
    options = parser.parse_args()
    study(options.takes, options.row, options.figure)


if __name__ == "__main__":
    main()
