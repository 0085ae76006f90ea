"""Print how often a jump of the heard click is told where none was, and where 10 ms of sound were lost.

    python -m tests.benchmarks.lost_sound_study [--takes 12] [--first 52000]

Each take lasts some 40 s: two figures, 60 to 140 bpm, a clock 0, 40 or 100 ppm off, touched skips, a quiet or
a lively room with noise 20 to 40 dB down, clicks at a level that wanders by some dB round the one given. What
was tuned, was tuned on seeds below 8000.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.banjo_material import RATE, Instrument, Recording, in_room, instruments, play
from trainer.hearing.heard_beats import DueClick, HeardBeats
from trainer.music.pattern import Meter
from trainer.records.library import load_library, open_pattern
from trainer.sound.clicks import ClickVoice, beat_click

Wave = NDArray[np.float64]
FIGURES = ("skip-figure", "basic-figure")
LEVELS_DB = (-6.0, -12.0, -20.0, -26.0)
TAKE_S, LOST_S = 40.0, 0.010
WANDERS_DB = 3.0
PIECE = 2048
NOTICED_S = 0.25  # after the second click: what looking for it takes


@dataclass(frozen=True, kw_only=True)
class Take:
    """One take: its sound, its truth, and how far its clock is off."""

    sound: Wave
    recording: Recording
    meter: Meter
    ppm: float


def made(instrument: Instrument, seed: int, click_db: float | None) -> Take:
    """Return a take with clicks at a level; None for headphones."""
    rng = np.random.default_rng(seed)
    pattern = open_pattern(FIGURES[seed % 2], load_library(Path("none")))
    bpm, ppm = int(rng.integers(60, 141)), float(rng.choice([-100, -40, 0, 40, 100]))
    bar_s = 60 / bpm * pattern.meter.beats
    recording = play(
        pattern, instrument, bpm=bpm, passes=max(2, int(TAKE_S / bar_s / len(pattern.bars))), seed=seed,
        touch_share=0.4, touch_db=-12.0, drift_ppm=ppm,
        click=None if click_db is None else ClickVoice.TONE, click_db=click_db or 0.0,
        click_wanders_db=WANDERS_DB,
    )  # fmt: skip
    room = {"rt60_s": 0.8, "direct_db": 0.0} if rng.random() < 0.3 else {}
    sound = in_room(recording.wave, snr_db=float(rng.choice([20, 30, 40])), seed=seed, **room)
    return Take(sound=sound, recording=replace(recording, wave=sound), meter=pattern.meter, ppm=ppm)


def followed(take: Take, sound: Wave, until_s: float = float("inf")) -> tuple[HeardBeats, list[float]]:
    """Follow the clicks as a drill does; return the end, and by how many ms each stroke is placed wrongly."""
    recording = take.recording
    beats, beat_s = HeardBeats(ClickVoice.TONE), 60 / recording.bpm
    for beat in range(-4, int((len(sound) / RATE - recording.beat_0_s) / beat_s)):
        beats.expect(DueClick(song_s=beat * beat_s, click=beat_click(take.meter, beat)))
    waiting, off_ms = [each.time_s for each in recording.played], []
    for start in range(0, len(sound), PIECE):
        beats.push(sound[start : start + PIECE])
        beats.look(recording.beat_0_s - 0.1)
        heard_s = (start + PIECE) / RATE
        while waiting and waiting[0] + 0.1 < heard_s:
            at_s = waiting.pop(0)
            placed_s = beats.song_s(at_s)
            if placed_s is not None:
                off_ms.append(1000 * (placed_s - (at_s - recording.beat_0_s) / (1 + take.ppm * 1e-6)))
        if heard_s > until_s:
            break
    return beats, off_ms


def noticed(take: Take, cut_beat: float) -> bool:
    """Return whether 10 ms lost at a beat are noticed within two clicks, and where they were."""
    beat_s = 60 / take.recording.bpm
    at = round((take.recording.beat_0_s + cut_beat * beat_s) * RATE)
    lost = np.concatenate([take.sound[:at], take.sound[at + round(LOST_S * RATE) :]])
    second_s = take.recording.beat_0_s + (np.floor(cut_beat) + 2) * beat_s
    beats, _off = followed(take, lost, second_s + NOTICED_S)
    return any(from_s <= cut_beat * beat_s <= to_s for from_s, to_s in beats.jumps)


def row(instrument: Instrument, seeds: Sequence[int], click_db: float | None) -> tuple[int, int, int, str]:
    """Return false alarms, losses, those noticed, and in words how strokes are placed."""
    false = lost = found = 0
    off: list[float] = []
    for seed in seeds:
        take = made(instrument, seed, click_db)
        beats, off_ms = followed(take, take.sound)
        false += bool(beats.jumps)
        off += off_ms
        if click_db is None:
            continue
        last = take.recording.played[-1].time_s - take.recording.beat_0_s
        for share in np.random.default_rng(seed).uniform(0.1, 0.9, 2):
            lost += 1
            found += noticed(take, float(share * last * take.recording.bpm / 60))
    placed = f"placed by the click {len(off)} strokes"
    if off:
        placed += f", SD {np.std(off):5.2f} ms, 95 % within {np.percentile(np.abs(off), 95):5.2f}"
    return false, lost, found, placed


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=12)
    parser.add_argument("--first", type=int, default=52_000)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.takes)
    for click_db in (*LEVELS_DB, None):
        label = "headphones" if click_db is None else f"click {click_db:.0f} dB"
        for name, instrument in instruments().items():
            false, lost, found, placed = row(instrument, seeds, click_db)
            print(
                f"{label:14}{name:18}told of a jump without one {false:3} of {len(seeds)} takes;"
                f" 10 ms lost: noticed {found:3} of {lost:3};  {placed}",
                flush=True,
            )


if __name__ == "__main__":
    main()
