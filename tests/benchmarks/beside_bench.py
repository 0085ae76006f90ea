"""Print how even the window's frames stay while a track is read or slowed, or a page printed, beside it.

Run from the checkout: ``python -m tests.benchmarks.beside_bench``. Two minutes of plucked notes are made,
read and slowed to 60 %; SDL's dummy drivers stand for screen and sound. Then how fast the slowing itself is,
beside scipy's short-time transform there and back, which does as many transforms and no more.
"""

from __future__ import annotations

import os
import tempfile
import time
import wave
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("SDL_AUDIODRIVER", "dummy")

import numpy as np
import pygame
from numpy.typing import NDArray
from scipy import signal

from tests.system.pictures import Studio
from trainer.app.own_track import OwnTrack
from trainer.app.printing import Printing
from trainer.records.library import open_pattern
from trainer.screen.painter import Painter
from trainer.screen.window import Window
from trainer.shipped import shipped_folder
from trainer.sound.plan import RATE
from trainer.sound.stretch import stretched

SECONDS = 120
SPEED = 60
FRAME_S = 1 / 60
WINDOW = Window(width=1280, height=720)


def plucks(seconds: float) -> NDArray[np.int16]:
    at = np.arange(round(seconds * RATE)) / RATE
    note = sum(np.sin(2 * np.pi * 220 * h * at) / h for h in range(1, 8))
    mono = 5000 * note * np.exp(-6 * (at % 0.5)) * (1 - np.exp(-2000 * (at % 0.5)))
    return np.stack((mono, 0.6 * mono), axis=1).astype(np.int16)


def keep(samples: NDArray[np.int16], path: Path) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(samples.tobytes())
    return path


class Frames:
    """A window that goes on at 60 frames a second, and the time from frame to frame."""

    def __init__(self) -> None:
        self.studio = Studio(WINDOW.width, WINDOW.height)
        self.painter = Painter(self.studio.surface, shipped_folder("assets") / "fonts")

    def print_until(self, what: str, is_over: Callable[[], bool]) -> None:
        gaps: list[float] = []
        last = time.perf_counter()
        while not is_over():
            self.studio.now_ns = time.perf_counter_ns()
            self.studio.app.tick(self.studio.now_ns)
            self.painter.paint(self.studio.app.view(WINDOW).scene())
            time.sleep(max(0.0, FRAME_S - (time.perf_counter() - last)))
            now = time.perf_counter()
            gaps.append((now - last) * 1000)
            last = now
        middle, late = np.percentile(gaps, (50, 99))
        print(f"{what:30} {sum(gaps) / 1000:7.1f} s {middle:8.1f} {late:8.1f} {max(gaps):8.1f} ms")


def print_frames(folder: Path) -> None:
    pygame.mixer.init(RATE, -16, 2, 512, allowedchanges=0)
    path = keep(plucks(SECONDS), folder / "plucks.wav")
    frames = Frames()
    context = frames.studio.app.context
    own = context.own_track = OwnTrack(folder=folder)
    end = time.perf_counter() + 3
    print(f"{'frame to frame':30} {'for':>9} {'median':>8} {'p99':>8} {'longest':>8}")
    frames.print_until("nothing besides", lambda: time.perf_counter() > end)
    own.open(path, RATE)
    frames.print_until(f"{SECONDS} s read", lambda: not own.is_reading)
    own.set_beat(Fraction(120), 0.0)
    own.slow_to(SPEED)
    frames.print_until(f"slowed to {SPEED} %", lambda: not own.is_reading)
    printing = Printing(open_pattern("turnip-frost at skips", context.preferences.library), folder=folder)
    frames.print_until("a break printed", lambda: printing.poll() is not None)


def print_speed() -> None:
    samples = plucks(20.0)
    began = time.process_time()
    heard = sum(len(piece) for piece in stretched(samples, SPEED / 100, RATE))
    ours_s = time.process_time() - began
    began = time.process_time()
    long = np.resize(samples, (heard, 2)).astype(float)
    for channel in long.T:
        signal.istft(signal.stft(channel, RATE, nperseg=2048, noverlap=1536)[2], RATE, noverlap=1536)
    peer_s = time.process_time() - began
    print(f"\nslowing down: {heard / RATE / ours_s:.0f} times real time, {ours_s / peer_s:.1f} times scipy's")


def main() -> None:
    """Print both."""
    with tempfile.TemporaryDirectory() as folder:
        print_frames(Path(folder))
    print_speed()


if __name__ == "__main__":
    main()
