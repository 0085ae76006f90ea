"""Print how fast the stream is rendered, what looking after it costs, and how loud its parts are.

Run from the checkout: ``python -m tests.benchmarks.sound_bench [BREAK.wav]``; with a name, 20 s of a break
over its band are kept there to be listened to. One core; the median of several runs.
"""

from __future__ import annotations

import statistics
import sys
import time
import wave
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from tests.judging.helpers import pattern_of
from tests.sound.helpers import ALTERNATING, plan_of
from trainer.devices.feeder import BLOCK_FRAMES
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.pattern import MAX_BARS, MAX_STROKES, Meter, Pattern, usual_motion
from trainer.music.strokes import DEFAULT_BRUSH, Kind, Stroke
from trainer.music.timeline import Timeline
from trainer.music.tuning import Tuning
from trainer.sound.backing import Backing
from trainer.sound.clock_line import ClockLine
from trainer.sound.gain import CEILING, FULL_SCALE
from trainer.sound.left_hand import Attack, left_hand_wave
from trainer.sound.midi_out import PadLights, Sending, due_messages
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, plan_for
from trainer.sound.pluck import note_samples
from trainer.sound.render import make_sounds, render
from trainer.sound.stream_onsets import agree_before, click_onsets
from trainer.sound.string import string_wave

SECONDS = 30
RUNS = 5
DEMONSTRATION = SoundSettings(strokes=True, subdivide=True)
LISTENED_S = 20
CLICK_HZ = (800, 3200)  # where most of a click lies


def break_pattern() -> Pattern:
    """Eight bars over changing chords, with a capo and all that the left hand does."""
    pattern = pattern_of(
        "strike 3, rest, brush, thumb",
        "strike 1 fret 2, drop-thumb 2, brush, thumb",
        "strike 3 fret 2, slide 3 fret 4, brush, thumb",
        "strike 4, hammer-on 4 fret 2, brush, thumb",
        "skip, drop-thumb 2 fret 1, brush, thumb",
        "strike 1 fret 5, pull-off 1 fret 2, brush, thumb",
        "strike 2, rest, brush, thumb",
        "strike 3, rest, accented brush, thumb",
    )
    spans = tuple(
        ChordSpan(chord=Chord(degree=degree, minor=degree == 6), beats=beats)
        for degree, beats in ((1, 4), (4, 4), (6, 2), (5, 2), (1, 4))
    )
    return replace(pattern, chart=Chart(key="A", spans=spans), tuning=Tuning(capo=2))


def break_plan(settings: SoundSettings) -> StreamPlan:
    return plan_for(break_pattern(), Timeline.steady(104), passes=0, settings=settings)


def track_plan() -> StreamPlan:
    """The same over a track of noise as loud as a full mix."""
    noise = np.random.default_rng(1).normal(0, 4000, (40 * RATE, 2)).clip(-32767, 32767).astype(np.int16)
    backing = Backing(samples=noise, rate=RATE, beat_1_s=1.0, bpm=Fraction(104))
    settings = SoundSettings(strokes=True, band=True)
    timeline = Timeline.steady(104)
    return plan_for(break_pattern(), timeline, passes=0, settings=settings, backing=backing)


def db(value: float) -> float:
    return float(20 * np.log10(max(value, 1e-9) / FULL_SCALE))


def presence(piece: NDArray[np.float64]) -> float:
    """The energy in the click's range of the 15 ms after an onset."""
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(2 * len(piece))[len(piece) :], 4096)) ** 2
    hz = np.fft.rfftfreq(4096, 1 / RATE)
    return float(spectrum[(hz > CLICK_HZ[0]) & (hz < CLICK_HZ[1])].sum())


def print_levels(keep_as: str) -> None:
    """Print how loud the parts of a break are, and how far the click stands out."""
    silent = SoundSettings(click=False, left_hand=False, click_db=-15.0, stroke_db=-15.0, band_db=-21.5)
    parts = {
        "clicks": replace(silent, click=True),
        "band": replace(silent, band=True),
        "strokes": replace(silent, strokes=True),
        "all together": replace(silent, click=True, band=True, strokes=True),
    }
    heard = {}
    for name, settings in parts.items():
        plan = break_plan(settings)
        heard[name] = render(plan, plan.origin_frame, LISTENED_S * RATE)[:, 0].astype(np.float64)
    print(f"\n{'a break over its band, 104, at first volumes':45} {'RMS':>8} {'peak':>8} {'bent frames':>12}")
    for name, samples in heard.items():
        bent = int((np.abs(samples) >= CEILING).sum())
        rms, peak = db(float(np.sqrt((samples**2).mean()))), db(float(np.abs(samples).max()))
        print(f"{name:45} {rms:5.1f} dB {peak:5.1f} dB {bent:12}")
    plan = break_plan(parts["clicks"])
    frames = [o.frame - plan.origin_frame for o in click_onsets(plan, plan.origin_frame, 20 * RATE)]
    for other in ("band", "strokes"):
        apart = [
            10 * np.log10(presence(heard["clicks"][at : at + 720]) / presence(heard[other][at : at + 720]))
            for at in frames
        ]
        print(f"click over {other}, {CLICK_HZ[0]} to {CLICK_HZ[1]} Hz, 15 ms: least {min(apart):.1f} dB")
    if keep_as:
        plan = break_plan(parts["all together"])
        with wave.open(keep_as, "wb") as file:
            file.setnchannels(2)
            file.setsampwidth(2)
            file.setframerate(RATE)
            file.writeframes(render(plan, 0, LISTENED_S * RATE).tobytes())


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


def first_sounds_s() -> float:
    """How long the sounds of a break take; asked before anything else is made."""
    plan = break_plan(SoundSettings(strokes=True, band=True))
    began = time.perf_counter()
    make_sounds(plan)
    return time.perf_counter() - began


def midi_of_a_second(plan: StreamPlan) -> None:
    sending = Sending(lights=PadLights(nail=36, thumb=38))
    for n in range(40):
        due_messages(plan, sending, 5 + n * 0.025, 5 + (n + 1) * 0.025)


def main() -> None:
    first_s = first_sounds_s()
    plans = {
        "clicks at 97.3": plan_of("97.3"),
        "clicks at 400": plan_of("400"),
        "whole figure and subdivision at 97.3": plan_of("97.3", settings=DEMONSTRATION),
        "whole figure at 400": plan_of("400", settings=DEMONSTRATION),
        "longest pattern, all slots brushed, at 200": plan_of(
            "200", pattern=longest_pattern(), settings=DEMONSTRATION
        ),
        "a break's band and clicks at 104": break_plan(SoundSettings(left_hand=False, band=True)),
        "a whole break over its band at 104": break_plan(SoundSettings(strokes=True, band=True)),
        "the same over a track": track_plan(),
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
    midi = break_plan(SoundSettings())
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
        "make a slide, 1.4 s": median_s(lambda: left_hand_wave(Attack.SLID, 59, 57, RATE)),
        "make all sounds of a break and its band, first time": first_s,
        "what MIDI is due in 25 ms, clock, clicks and lights": median_s(lambda: midi_of_a_second(midi)) / 40,
        "find a string made before": median_s(lambda: note_samples(50, -12.0, RATE)),
        "one observation of the clock line, window full": median_s(lambda: observe(1100)) / 1100,
    }
    print()
    for name, took_s in rows.items():
        print(f"{name:60} {took_s * 1e3:9.3f} ms")
    print_levels(sys.argv[1] if len(sys.argv) > 1 else "")


if __name__ == "__main__":
    main()
