"""Print what a calibration is worth: tapping along for players of known habit, and the microphone in a room.

Run it with: python -m tests.benchmarks.calibration_study [--tries N]
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from numpy.typing import NDArray

from tests.sound.room import Room, calibration_clicks
from trainer.judging.delay import (
    DelayAnswer,
    DelayFound,
    find_delay,
    find_device_delay,
    median_interval,
    placements,
    settled,
)
from trainer.sound.knocks import find_clicks, find_knocks, without_clicks

GAP_S = 0.6
RATE = 48_000
TAPS = 14
Times = NDArray[np.float64]


def tapping(rng: np.random.Generator, *, delay_s: float, jitter_s: float, n: int) -> tuple[Times, Times]:
    """Return clicks, and the taps of a player: one in twenty missed, the first two while finding the beat."""
    clicks = np.arange(2 * n + 8, dtype=np.float64) * np.float64(GAP_S)
    taps: Times = clicks + delay_s + rng.normal(0, jitter_s, len(clicks))
    taps[:2] += rng.normal(0, 0.08, 2)
    taps = taps[rng.random(len(clicks)) > 0.05]
    # As in the window: tapped until enough of them count.
    enough = next(m for m in range(n, len(taps)) if len(settled(placements(clicks, taps[:m]))) >= n)
    return clicks, taps[:enough]


def along(tries: int) -> None:
    """Print the error of tapping along."""
    print(f"Tapping along at 100 clicks a minute, {tries} tries a row; true delay -60 to 200 ms")
    print(" jitter  taps   given   bias      error: median  95 %   interval holds the truth   refused")
    for jitter_s in (0.010, 0.020, 0.030, 0.040):
        for n in (16, 32):
            errors, held = [], 0
            for seed in range(tries):
                rng = np.random.default_rng(seed)
                delay_s = float(rng.uniform(-0.06, 0.2))
                clicks, taps = tapping(rng, delay_s=delay_s, jitter_s=jitter_s, n=n)
                answer = find_delay(clicks, taps)
                if isinstance(answer, DelayFound):
                    errors.append(answer.median_s - delay_s)
                    interval = median_interval(placements(clicks, taps))
                    held += interval is not None and interval[0] <= delay_s <= interval[1]
            ms = np.array(errors) * 1000
            print(
                f"  {jitter_s * 1000:3.0f} ms   {n:3d}  {len(ms) / tries:6.1%}  {ms.mean():+5.2f} ms   "
                f"{np.median(np.abs(ms)):10.1f} ms  {np.percentile(np.abs(ms), 95):4.1f} ms   "
                f"{held / max(len(ms), 1):18.1%}   {1 - len(ms) / tries:11.1%}"
            )


def by_microphone(
    rng: np.random.Generator, room: Room, *, habit_s: float
) -> tuple[DelayAnswer, float, float]:
    """Return the answer of one recording, the true delay, and the seconds it took to hear."""
    delay_s, microphone_s = float(rng.uniform(0, 0.28)), float(rng.uniform(0, 0.2))
    begin_s = 3.0 + microphone_s
    hits = np.arange(TAPS) * GAP_S + habit_s + rng.normal(0, 0.03, TAPS)
    clicks = [(s + delay_s + begin_s, kind) for s, kind in calibration_clicks(TAPS + 2)]
    wave = room.record(rng, clicks, [float(h) + begin_s for h in hits], length_s=clicks[-1][0] + 1.0)
    taps = hits + rng.uniform(-0.001, 0.001, TAPS)  # a MIDI pad over USB: to a millisecond
    start = time.perf_counter()
    heard = find_clicks(wave, room.rate)
    answer = find_device_delay(
        clicks_heard_s=[click.time_s for click in heard],
        knocks_heard_s=find_knocks(without_clicks(wave, room.rate, heard), room.rate),
        clicks_s=[beat * GAP_S for beat in range(-4, TAPS + 4)],
        taps_s=taps,
    )
    return answer, delay_s, time.perf_counter() - start


def with_microphone(tries: int) -> None:
    """Print the error of the difference method."""
    print(
        f"\nBy microphone, {tries} tries a row: delay 0 to 280 ms, the microphone's own 0 to 200 ms, echo of "
        "0.4 s"
    )
    print(
        " tapped          noise under a knock   direct over echo   given    error: median    95 %   heard in"
    )
    cases = [(0.3, noise, 3.0) for noise in (0.0005, 0.002, 0.008, 0.02)]
    cases += [(0.3, 0.002, 6.0), (0.3, 0.002, 0.0), (0.0, 0.002, 3.0), (-0.04, 0.008, 3.0)]
    for habit_s, noise, direct_db in cases:
        errors, took = [], []
        for seed in range(tries):
            room = Room(noise=noise, direct_db=direct_db)
            answer, delay_s, seconds = by_microphone(np.random.default_rng(seed), room, habit_s=habit_s)
            took.append(seconds)
            if isinstance(answer, DelayFound):
                errors.append(answer.median_s - delay_s)
        ms = np.abs(np.array(errors)) * 1000
        where = "between clicks" if habit_s == 0.3 else f"{habit_s * 1000:+.0f} ms"
        figures = (
            f"{np.median(ms):10.2f} ms  {np.percentile(ms, 95):5.2f} ms"
            if len(ms)
            else "         none         "
        )
        print(
            f" {where:<15} {20 * np.log10(0.25 / noise):15.0f} dB   {direct_db:13.0f} dB   "
            f"{len(ms) / tries:6.1%}  {figures}   {np.median(took):8.2f} s"
        )


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--tries", type=int, default=1000, help="players a row; a tenth of it for recordings")
    tries = parser.parse_args().tries
    along(tries)
    with_microphone(max(10, tries // 20))


if __name__ == "__main__":
    main()
