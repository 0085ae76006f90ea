"""Print what grading costs: a live tap, a whole take, and the pairing against scipy's assignment.

Run it with: python -m tests.benchmarks.grading_bench
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import linear_sum_assignment

from trainer.judging.live import LiveJudge
from trainer.judging.matching import Priced, Touch, match, pair_cost, price, touch_of
from trainer.judging.verdicts import judge
from trainer.music.layout import Target, lay_out
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.records.library import load_library, open_pattern

SLOPPY = Faults(jitter_s=0.02, rush_gap_s=0.05, touch_skips=0.1, miss=0.03, stray=0.02)
SEED = 5
LIVE_RUNS = 5


def targets_for(strokes: int) -> tuple[Target, ...]:
    """Lay out the skip figure until at least this many strokes are asked."""
    pattern = open_pattern("skip-figure", load_library())
    passes = -(-strokes // len(pattern.strokes))
    return lay_out(pattern, Timeline.steady(100), passes=passes)


def seconds(work: Callable[[], object]) -> float:
    """Return the least of three runs."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def live_cost_us(strokes: int) -> tuple[np.ndarray, np.ndarray]:
    """Return what each tap of a take costs live: taking it in and the view after it.

    Returns:
        Microseconds by the clock on the wall, in which a busy machine's other work is too, and of computing.
    """
    targets = targets_for(strokes)
    taps = simulate(targets, SLOPPY, np.random.default_rng(SEED)).taps
    live = LiveJudge()
    live.expect(targets)
    passed, computed = [], []
    for tap in taps:
        start, start_ns = time.perf_counter(), time.thread_time_ns()
        live.add_tap(tap)
        live.view(tap.song_s + 0.002)
        computed.append((time.thread_time_ns() - start_ns) / 1e3)
        passed.append((time.perf_counter() - start) * 1e6)
    return np.array(passed), np.array(computed)


def live_row() -> str:
    """Say what a live tap costs: the medians of several runs."""
    runs = [live_cost_us(4000) for _ in range(LIVE_RUNS)]
    said = []
    for at, what in enumerate(("passed", "computing")):
        middle, most = (np.median([np.percentile(run[at], share) for run in runs]) for share in (50, 99))
        said.append(f"{what}: median {middle:.0f} us, p99 {most:.0f} us")
    said.append(f"p99 of the least of {LIVE_RUNS}: {np.percentile(np.min(runs, axis=0)[0], 99):.0f} us")
    return f"live, one tap, medians of {LIVE_RUNS} runs; {'; '.join(said)}"


def scipy_seconds(priced: list[Priced], touches: list[Touch]) -> float:
    """Return the time scipy needs for the same prices as a full assignment, table included."""

    def work() -> None:
        n, m = len(priced), len(touches)
        table = np.full((n + m, m + n), 1e12)
        for row, target in enumerate(priced):
            for column, touch in enumerate(touches):
                table[row, column] = pair_cost(target, touch)
        table[np.arange(n), m + np.arange(n)] = [p.miss_us for p in priced]
        table[n + np.arange(m), np.arange(m)] = priced[0].stray_us
        table[n:, m:] = 0
        linear_sum_assignment(table)

    return seconds(work)


def main() -> None:
    """Print the table."""
    print(live_row())
    print("whole take:")
    last = None
    for strokes in (1_000, 10_000, 100_000):
        targets = targets_for(strokes)
        taps = simulate(targets, SLOPPY, np.random.default_rng(SEED)).taps
        took = seconds(lambda targets=targets, taps=taps: judge(targets, taps))  # type: ignore[misc]
        growth = "" if last is None else f", {took / last:.1f} times the row above"
        print(f"  {strokes:>7} strokes: {took:.3f} s, {took / strokes * 1e6:.1f} us a stroke{growth}")
        last = took
    targets = targets_for(400)
    taps = simulate(targets, SLOPPY, np.random.default_rng(SEED)).taps
    priced = [p for p in (price(t, knows_left=False) for t in targets) if p is not None]
    touches = [touch_of(tap) for tap in taps]
    ours, theirs = seconds(lambda: match(priced, touches)), scipy_seconds(priced, touches)
    print(f"pairing 400 strokes: ours {ours * 1e3:.1f} ms, scipy's assignment {theirs * 1e3:.1f} ms, "
          f"ratio {ours / theirs:.3f}")  # fmt: skip


if __name__ == "__main__":
    main()
