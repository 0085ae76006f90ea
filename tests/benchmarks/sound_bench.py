"""Print how fast the stream is rendered and what looking after it costs.

Run from the checkout: ``python -m tests.benchmarks.sound_bench``. One core; the median of several runs.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from fractions import Fraction

from tests.sound.helpers import ALTERNATING, plan_of
from trainer.devices.feeder import BLOCK_FRAMES
from trainer.music.pattern import MAX_BARS, MAX_STROKES, Meter, Pattern, usual_motion
from trainer.music.strokes import DEFAULT_BRUSH, Kind, Stroke
from trainer.sound.clock_line import ClockLine
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, agree_before, click_onsets
from trainer.sound.pluck import note_samples, string_wave
from trainer.sound.render import render

SECONDS = 30
RUNS = 5
DEMONSTRATION = SoundSettings(strokes=True, subdivide=True)


def longest_pattern() -> Pattern:
    """As many bars and strokes as a pattern can have, every slot sounding, brushes on the down slots."""
    slots = MAX_STROKES // MAX_BARS
    motion = usual_motion(Meter.FOUR_FOUR, slots // Meter.FOUR_FOUR.beats)
    brush = Stroke(kind=Kind.BRUSH, strings=DEFAULT_BRUSH, accented=True)
    thumb = Stroke(kind=Kind.DROP_THUMB, strings=(4,), fret=2)
    bar = tuple(brush if slot % 2 == 0 else thumb for slot in range(slots))
    return Pattern(
        name="longest",
        title="Longest",
        level=ALTERNATING.level,
        step=1,
        meter=Meter.FOUR_FOUR,
        slots_per_beat=slots // Meter.FOUR_FOUR.beats,
        motion=motion,
        bars=(bar,) * MAX_BARS,
        needs=(),
        slow_bpm=Fraction(40),
        goal_bpm=Fraction(200),
        teacher="",
    )


def median_s(work: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def stream(plan: StreamPlan) -> None:
    for first in range(0, SECONDS * RATE, BLOCK_FRAMES):
        render(plan, first, BLOCK_FRAMES)


def worst_block_s(plan: StreamPlan) -> float:
    worst = 0.0
    for first in range(0, SECONDS * RATE, BLOCK_FRAMES):
        began = time.perf_counter()
        render(plan, first, BLOCK_FRAMES)
        worst = max(worst, time.perf_counter() - began)
    return worst


def observe(count: int) -> ClockLine:
    line = ClockLine.started(0, 100.0, rate=RATE, buffer_frames=512)
    for n in range(1, count):
        line = line.observed(n * BLOCK_FRAMES, 100.0 + n * BLOCK_FRAMES / RATE, blind_s=0.0005)
    return line


def main() -> None:
    plans = {
        "clicks at 97.3": plan_of("97.3"),
        "clicks at 400": plan_of("400"),
        "whole figure and subdivision at 97.3": plan_of("97.3", settings=DEMONSTRATION),
        "whole figure at 400": plan_of("400", settings=DEMONSTRATION),
        "longest pattern, all slots brushed, at 200": plan_of(
            "200", pattern=longest_pattern(), settings=DEMONSTRATION
        ),
    }
    print(f"{'stream, in blocks of 2048 frames':45} {'x real time':>12} {'a block':>10} {'worst':>10}")
    for name, plan in plans.items():
        stream(plan)  # the sounds themselves are made once and kept
        took_s = median_s(lambda plan=plan: stream(plan))  # type: ignore[misc]
        block_s = took_s * BLOCK_FRAMES / (SECONDS * RATE)
        worst_s = worst_block_s(plan)
        print(f"{name:45} {SECONDS / took_s:12.0f} {block_s * 1e3:7.3f} ms {worst_s * 1e3:7.3f} ms")

    changing = plan_of("97.3", changes=tuple((40 * n, "133" if n % 2 else "61") for n in range(1, 60)))
    half_hour = 1800 * RATE
    clicks = len(click_onsets(changing, 0, half_hour))
    rows = {
        f"onsets of half an hour with tempo changes ({clicks} clicks)": median_s(
            lambda: click_onsets(changing, 0, half_hour)
        ),
        "compare two plans before a change (whole figure)": median_s(
            lambda: agree_before(plans["whole figure at 400"], plans["whole figure at 400"], 20 * RATE)
        ),
        "make one string, D3, 1.4 s": median_s(lambda: string_wave(146.832, RATE)),
        "make the highest fret, 1.4 s": median_s(lambda: string_wave(1396.9, RATE)),
        "find a string made before": median_s(lambda: note_samples(50, -12.0, RATE)),
        "one observation of the clock line, window full": median_s(lambda: observe(1100)) / 1100,
    }
    print()
    for name, took_s in rows.items():
        print(f"{name:60} {took_s * 1e3:9.3f} ms")


if __name__ == "__main__":
    main()
