"""Play thousands of simulated takes and print how truly they are judged and advised upon.

Run it with: python -m tests.benchmarks.judging_study --takes 1000
Tempo 100 beats a minute (slots of 300 ms), middle pocket (30 ms either way), unless a row says other. Takes
that leave the grid as a whole are the business of :mod:`tests.benchmarks.reading_study`.
"""

from __future__ import annotations

import argparse
import dataclasses
import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from trainer.judging.advice import advise
from trainer.judging.breakdown import break_down
from trainer.judging.changes import first_after_changes
from trainer.judging.live import LiveJudge
from trainer.judging.matching import microseconds
from trainer.judging.pocket import Pocket
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.judging.wording import Fault
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import Target, lay_out
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import Deed, SimulatedTake, simulate
from trainer.records.library import load_library, open_pattern

LIBRARY = load_library()
ONE, FOUR, FIVE = Chord(degree=1), Chord(degree=4), Chord(degree=5)
# Sixteen bars of 2/4 with eight changes, one of them back to the beginning.
CHART = Chart(
    key="A",
    spans=tuple(
        ChordSpan(chord=chord, beats=beats)
        for chord, beats in (
            (ONE, 8), (FOUR, 4), (ONE, 4), (FIVE, 4), (ONE, 2), (FOUR, 2), (ONE, 4), (FIVE, 4),
        )
    ),
)  # fmt: skip
SEED = 20
BPM = 100
POCKET = Pocket.MIDDLE
BASIC, SKIP, MIXED, DROP = (
    "basic-figure", "skip-figure", "one-basic-one-skip", "drop-thumb-in-basic-figure",
)  # fmt: skip
# Two to four passes, or 18 to 24 strokes.
SHORT = (
    (BASIC, 6), (BASIC, 8), (SKIP, 4), (SKIP, 8), (MIXED, 2), (MIXED, 4), (DROP, 4),
    ("three-basic-one-skip", 2), ("three-basic-one-skip", 4), ("in-three", 4), ("barn-lantern at skips", 2),
)  # fmt: skip
WAVE_S = 4.0
EVERY = (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB)
SLOPPY = Faults(
    jitter_s=0.020, rush_gap_s=0.030, touch_skips=0.05, miss=0.02, stray=0.02, wrong_hand=0.02, double=0.01,
    lean_s=((Kind.BRUSH, 0.010), (Kind.THUMB, -0.010)),
)  # fmt: skip


def asked(name: str, strokes: int, bpm: int = BPM) -> tuple[Target, ...]:
    """Lay out whole passes until at least this many strokes should sound."""
    pattern = open_pattern(name, LIBRARY)
    each = sum(1 for s in pattern.strokes if s.kind.sounds)
    return lay_out(pattern, Timeline.steady(Fraction(bpm)), passes=-(-strokes // each))


def takes(
    targets: Sequence[Target], faults: Faults, n: int, seed: int = SEED
) -> Iterable[tuple[SimulatedTake, Judgement]]:
    """Play and judge ``n`` takes."""
    for k in range(n):
        take = simulate(targets, faults, np.random.default_rng([seed, k]))
        yield take, judge(targets, take.taps, pocket=POCKET)


def row(what: str, value: str, goal: str, reached: bool) -> None:
    """Print one line of the table."""
    print(f"{what:<80} {value:>18} {goal:>9}  {'reached' if reached else 'MISSED'}")


def recovery(n: int) -> None:
    """Print how far the measured bias of each kind, and the rushed gap, lies from what was put in."""
    lean = dict(zip(EVERY, (0.012, -0.018, 0.020, -0.025), strict=True))
    for name in (DROP, MIXED):
        targets = asked(name, 100)
        faults = Faults(jitter_s=0.012, lean_s=tuple(lean.items()))
        found: dict[Kind, list[float]] = {}
        for _, judgement in takes(targets, faults, n):
            for kind, group in break_down(judgement).by_kind:
                found.setdefault(kind, []).append((group.placement.mean_s or 0.0) - lean[kind])
        for kind, errors in found.items():
            mean = abs(float(np.mean(errors))) * 1000
            single = float(np.sqrt(np.mean(np.square(errors)))) * 1000
            what = f"bias of {kind.value}, {name}, jitter 12 ms, 100 strokes"
            row(what, f"{mean:.2f} (rms {single:.1f})", "<= 1 ms", mean <= 1)
    rushes = []
    for _, judgement in takes(asked(SKIP, 100), Faults(jitter_s=0.012, rush_gap_s=0.040), n):
        parts = break_down(judgement)
        rushes.append(
            (parts.after_skip.placement.mean_s or 0) - (parts.elsewhere.placement.mean_s or 0) + 0.04
        )
    mean = abs(float(np.mean(rushes))) * 1000
    row("rushed gap of 40 ms, skip-figure, jitter 12 ms", f"{mean:.2f} ms", "<= 1 ms", mean <= 1)


def true_verdicts(targets: Sequence[Target], take: SimulatedTake) -> dict[int, Verdict]:
    """Return what should be said of each target, by ``Target.index``, rests left out."""
    said = {}
    for target, truth in zip(targets, take.target_truths, strict=True):
        if truth.deed is Deed.RESTED:
            continue
        plain = {
            Deed.MISSED: Verdict.MISSED,
            Deed.KEPT_SILENT: Verdict.KEPT_SILENT,
            Deed.TOUCHED: Verdict.TOUCHED,
            Deed.NOT_HEARD: Verdict.NOT_JUDGED,
        }
        if truth.deed in plain:
            said[target.index] = plain[truth.deed]
        elif truth.tap_index is not None and take.tap_truths[truth.tap_index].wrong_hand:
            said[target.index] = Verdict.WRONG_HAND
        else:
            late, width = (
                microseconds(truth.placement_s or 0.0),
                microseconds(POCKET.half_width_s(target.slot_s)),
            )
            said[target.index] = (
                Verdict.EARLY if late < -width else Verdict.LATE if late > width else Verdict.IN_TIME
            )
    return said


def agreement(n: int) -> None:
    """Print how often the verdict is the true one."""
    for name, faults, bpm in (
        (MIXED, SLOPPY, BPM),
        (SKIP, SLOPPY, BPM),
        (BASIC, SLOPPY, 140),
        (MIXED, dataclasses.replace(SLOPPY, clock_sd_s=0.008, motor_sd_s=0.005, jitter_s=0.015), BPM),
    ):
        targets, right, total = asked(name, 100, bpm), 0, 0
        for take, judgement in takes(targets, faults, n):
            truth = true_verdicts(targets, take)
            for o in judgement.outcomes:
                if o.verdict is Verdict.NOT_JUDGED:
                    continue
                total += 1
                right += truth[o.target.index] is o.verdict
        share = right / total
        hand = "own clock, " if faults.clock_sd_s else ""
        what = f"verdicts as in truth, sloppy, {hand}{name}, {bpm} bpm"
        row(what, f"{100 * share:.2f} %", ">= 99.5 %", share >= 0.995)


def told_apart(n: int) -> None:
    """Print how often a rushed stroke after a skip and a touched skip are each read as what they are."""
    for one_pad in (False, True):
        rushed_right = rushed = flagged = short = touch_right = touch = 0
        for rush_ms in (60, 100, 150, 200):
            faults = Faults(jitter_s=0.012, rush_gap_s=rush_ms / 1000, touch_skips=0.15, one_pad=one_pad)
            for take, judgement in takes(asked(SKIP, 30), faults, max(1, n // 4)):
                by_index = {o.target.index: o for o in judgement.outcomes}
                for truth in take.target_truths:
                    if truth.rushed:
                        o = by_index[truth.target_index]
                        rushed += 1
                        rushed_right += o.tap_index == truth.tap_index
                        if rush_ms >= 100:
                            short += 1
                            flagged += o.rushed_gap
                    elif truth.deed is Deed.TOUCHED:
                        touch += 1
                        touch_right += by_index[truth.target_index].verdict is Verdict.TOUCHED
        pads = "one pad" if one_pad else "hands known"
        for what, share in (("gap rushed by 60 to 200 of 300 ms", rushed_right / rushed),
                            ("skip touched", touch_right / touch)):  # fmt: skip
            row(f"{what} read as such, {pads}", f"{100 * share:.2f} %", ">= 99 %", share >= 0.99)


def blameless(n: int) -> None:
    """Print how often players without a fault are advised: 24, 60 and 200 strokes of three figures."""
    lead = tuple((k, -0.030) for k in EVERY)
    players = (
        ("jitter 10 ms", Faults(jitter_s=0.010), BPM),
        ("jitter 15 ms", Faults(jitter_s=0.015), BPM),
        ("jitter 12 ms, 60 bpm", Faults(jitter_s=0.012), 60),
        ("jitter 10 ms, 150 bpm", Faults(jitter_s=0.010), 150),
        ("lead of 30 ms, jitter 12 ms", Faults(jitter_s=0.012, lean_s=lead), BPM),
        ("clock 8, motor 4 ms, correction 0.5", Faults(clock_sd_s=0.008, motor_sd_s=0.004), BPM),
        (
            "clock 6, motor 4 ms, correction 0.25",
            Faults(clock_sd_s=0.006, motor_sd_s=0.004, correction=0.25),
            BPM,
        ),
        (
            "clock 8, motor 4 ms, correction 1",
            Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=1.0),
            BPM,
        ),
        ("jitter 12 ms, 2 % missed and strays", Faults(jitter_s=0.012, miss=0.02, stray=0.02), BPM),
        ("jitter 10 ms, one pad", Faults(jitter_s=0.010, one_pad=True), BPM),
    )
    lengths = ((BASIC, 24), (SKIP, 60), (MIXED, 60), (MIXED, 200))
    for what, faults, bpm in players:
        shares, kinds = [], Counter[Fault]()
        for name, strokes in lengths:
            said = [advise(j) for _, j in takes(asked(name, strokes, bpm), faults, n)]
            shares.append(sum(1 for s in said if s) / n)
            kinds.update(f.fault for s in said for f in s)
        mean, worst = sum(shares) / len(shares), max(shares)
        common = f" ({kinds.most_common(1)[0][0].value})" if kinds else ""
        value = f"{100 * mean:.1f}, worst {100 * worst:.1f} %"
        row(f"advised though blameless: {what}{common}", value, "<= 5 %", mean <= 0.05)


def wave(rng: np.random.Generator, taps: Sequence[Tap]) -> list[Tap]:
    """Play with a clock that goes 2 % too fast and too slow in turn, every four seconds: 13 ms either way."""
    start = float(rng.uniform(0, 2 * math.pi))
    size_s = 0.02 * WAVE_S / (2 * math.pi)
    return [
        replace(t, song_s=t.song_s + size_s * math.sin(2 * math.pi * t.song_s / WAVE_S + start)) for t in taps
    ]


def late_tail(rng: np.random.Generator, taps: Sequence[Tap]) -> list[Tap]:
    """Add an exponential of 8 ms to each tap: with a normal of 8 ms an ex-Gaussian, as tapping has it."""
    return [replace(t, song_s=t.song_s + float(rng.exponential(0.008)) - 0.008) for t in taps]


def short(n: int) -> None:
    """Print how often players without a fault are advised, or read as other than asked, in short takes."""
    players: list[tuple[str, Faults, Callable[[np.random.Generator, Sequence[Tap]], list[Tap]] | None]] = [
        ("jitter 10 ms", Faults(jitter_s=0.010), None),
        ("jitter 15 ms", Faults(jitter_s=0.015), None),
        ("ex-Gaussian 8 and 8 ms", Faults(jitter_s=0.008), late_tail),
        ("wandering: clock 8, motor 4 ms", Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=0.25), None),
        ("clock waves by 2 %", Faults(jitter_s=0.008), wave),
    ]
    for lead_ms in (0, 20, 40, 60):
        lean = tuple((kind, -lead_ms / 1000) for kind in Kind if kind.sounds)
        players.append((f"lead of {lead_ms} ms, jitter 12 ms", Faults(jitter_s=0.012, lean_s=lean), None))
    for what, faults, bend in players:
        shares: dict[str, float] = {}
        kinds = Counter[Fault]()
        for name, passes in SHORT:
            pattern, timeline = open_pattern(name, LIBRARY), Timeline.steady(Fraction(BPM))
            targets = lay_out(pattern, timeline, passes=passes)
            asked_for = Asked(pattern=pattern, timeline=timeline, passes=passes)
            told = 0
            for k in range(n):
                rng = np.random.default_rng([SEED, k])
                taps: Sequence[Tap] = simulate(targets, faults, rng).taps
                taps = bend(rng, taps) if bend else taps
                judgement = reading_of(asked_for, targets, taps, others=LIBRARY.patterns, pocket=POCKET)
                assert judgement.reading is not None
                # A steady lead is told as one, without blame.
                is_as_asked = judgement.reading.kind.is_as_asked
                said = [f for f in advise(judgement) if not (is_as_asked and f.fault is Fault.READING)]
                told += bool(said)
                kinds.update(finding.fault for finding in said)
            strokes = sum(1 for t in targets if t.stroke.kind.sounds)
            shares[f"{name}, {strokes} strokes"] = told / n
        mean, worst = sum(shares.values()) / len(shares), max(shares, key=lambda cell: shares[cell])
        common = f" ({kinds.most_common(1)[0][0].value})" if kinds else ""
        value = f"{100 * mean:.1f}, worst {100 * shares[worst]:.1f} %"
        row(f"advised though blameless in {worst}: {what}{common}", value, "<= 5 %", shares[worst] <= 0.05)


def power(n: int) -> None:
    """Print how often a fault of 15 ms is named within 60 strokes."""
    for jitter_ms in (10, 15):
        for name, kind in (
            (BASIC, Kind.BRUSH), (BASIC, Kind.THUMB), (DROP, Kind.DROP_THUMB), (SKIP, None), (MIXED, None),
            ("three-basic-one-skip", None), ("barn-lantern at skips", None),
        ):  # fmt: skip
            faults = Faults(jitter_s=jitter_ms / 1000, rush_gap_s=0.0 if kind else 0.015,
                            lean_s=((kind, -0.015),) if kind else ())  # fmt: skip
            chart = open_pattern(name, LIBRARY).chart
            hits = sum(1 for _, j in takes(asked(name, 60), faults, n) if _named(j, kind, chart))
            what = (
                f"15 ms found, {kind.value if kind else 'gap'} in {name}, jitter {jitter_ms} ms, 60 strokes"
            )
            row(what, f"{100 * hits / n:.1f} %", ">= 90 %", hits / n >= 0.9)


def _named(judgement: Judgement, kind: Kind | None, chart: Chart | None) -> bool:
    fault = Fault.KIND_EARLY if kind else Fault.RUSHED_GAP
    return any(f.fault is fault and f.kind is kind for f in advise(judgement, chart))


def over_chart(names: Sequence[str], passes: int) -> tuple[tuple[Target, ...], Chart]:
    """Lay figures of the library in turn over the chart."""
    figures = [open_pattern(name, LIBRARY) for name in names]
    bars = tuple(bar for figure in figures for bar in figure.bars)
    each = CHART.beats // figures[0].meter.beats
    pattern = dataclasses.replace(
        figures[0], bars=tuple(bars[at % len(bars)] for at in range(each)), chart=CHART
    )
    return lay_out(pattern, Timeline.steady(Fraction(BPM)), passes=passes), CHART


def changes(n: int) -> None:
    """Print how often a hand that waits at chord changes is told so, and how often one that does not."""
    for names in ((BASIC,), (SKIP,), (BASIC, SKIP)):
        for passes in (2, 4):
            targets, chart = over_chart(names, passes)
            strokes = sum(1 for t in targets if t.stroke.kind.sounds)
            after = len(first_after_changes(targets, chart))
            what = f"{' and '.join(names)} over eight changes, {strokes} strokes, {after} after one"
            for faults in (
                Faults(jitter_s=0.012),
                Faults(clock_sd_s=0.008, motor_sd_s=0.004),
                Faults(jitter_s=0.012, rush_gap_s=0.040, lean_s=((Kind.STRIKE, 0.020),)),
            ):
                said, about = told_of_changes(targets, chart, faults, n)
                faulty = faults.rush_gap_s > 0
                share = (about if faulty else said) / n
                who = "rushes and leans" if faulty else "own clock" if faults.clock_sd_s else "jitter 12 ms"
                of = "told of changes though not late there" if faulty else "advised though blameless"
                row(f"{of}: {who}, {what}", f"{100 * share:.1f} %", "<= 5 %", share <= 0.05)
            for late_s in (0.015, 0.030):
                faults = Faults(jitter_s=0.012, late_change_s=late_s)
                _, about = told_of_changes(targets, chart, faults, n)
                words = f"late by {1000 * late_s:.0f} ms after a change found, jitter 12 ms, {what}"
                row(words, f"{100 * about / n:.1f} %", ">= 90 %", about / n >= 0.9)


def told_of_changes(targets: Sequence[Target], chart: Chart, faults: Faults, n: int) -> tuple[int, int]:
    """Return how many of ``n`` takes are advised at all, and how many about chord changes."""
    said = about = 0
    for k in range(n):
        take = simulate(targets, faults, np.random.default_rng([SEED, k]), chart=chart)
        findings = {f.fault for f in advise(judge(targets, take.taps, pocket=POCKET), chart)}
        said += bool(findings)
        about += bool(findings & {Fault.LATE_AFTER_CHANGE, Fault.LATE_CHANGE, Fault.EARLY_AFTER_CHANGE})
    return said, about


def live(n: int) -> None:
    """Print on how many strokes the live verdict and that of the whole take agree."""
    right = total = 0
    for name in (MIXED, SKIP):
        targets = asked(name, 100)
        for take, whole in takes(targets, SLOPPY, n):
            told = LiveJudge(pocket=POCKET)
            told.expect(targets)
            outcomes: list[Outcome] = []
            for tap in take.taps:
                told.add_tap(tap)
                outcomes += told.view(tap.song_s + 0.005).settled
            outcomes += told.finish().settled
            total += len(whole.outcomes)
            right += sum(1 for a, b in zip(outcomes, whole.outcomes, strict=True) if a == b)
    row(
        f"live as whole take, {total} strokes",
        f"{100 * right / total:.3f} %",
        ">= 99.9 %",
        right / total >= 0.999,
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--takes", type=int, default=400, help="takes for each row")
    parser.add_argument("--only", help="one part of the table")
    options = parser.parse_args()
    parts: tuple[tuple[Callable[[int], None], int], ...] = (
        (recovery, options.takes), (agreement, options.takes), (told_apart, options.takes),
        (blameless, options.takes), (short, options.takes), (power, options.takes), (changes, options.takes),
        (live, max(1, options.takes // 20)),
    )  # fmt: skip
    print(f"{options.takes} takes for each row, {BPM} beats a minute, {POCKET.value} pocket")
    for part, n in parts:
        if options.only in (None, part.__name__):
            part(n)


if __name__ == "__main__":
    main()
