"""Print where clicks land in what a sound card plays: ours, and those of a sound started on a timer.

Run it with: python -m tests.benchmarks.clock_bench [--seconds N] [--bpm TEMPO]

Both go through the same mixer with the same buffer to a card of exact speed (tests/system/pipe_card.py,
Linux only), in turn, at rest and beside a main thread that is busy for 10 ms of every 16, as a window's is.
An error is the distance of a click's first frame from exact arithmetic, a constant (the card's delay) taken
off.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pygame
from numpy.typing import NDArray

from tests.sound.helpers import CLICKS_ONLY, plan_of
from trainer.app import loop
from trainer.devices.clock import now_ns
from trainer.devices.feeder import BUFFER_FRAMES
from trainer.devices.mixer import CHANNELS, FORMAT
from trainer.devices.speaker import Speaker
from trainer.sound.clicks import Click, click_samples
from trainer.sound.plan import RATE

CARD = Path(__file__).parents[1] / "system" / "pipe_card.py"
Frame = Callable[[], None]
Play = Callable[[Fraction, float, Frame], None]


def rest() -> None:
    time.sleep(0.002)


def busy() -> None:
    until = time.perf_counter() + 0.010
    while time.perf_counter() < until:
        pass
    time.sleep(0.006)


def ours(bpm: Fraction, seconds: float, frame: Frame) -> None:
    """Play clicks as the drill does."""
    speaker = Speaker()
    begun = time.perf_counter()
    speaker.start(plan_of(str(float(bpm)), settings=CLICKS_ONLY), now_ns())
    while time.perf_counter() - begun < seconds:
        frame()
        speaker.pump(now_ns())
    speaker.close()


def script(bpm: Fraction, seconds: float, frame: Frame) -> None:
    """Sleep until each click is due and start its sound, in a thread of its own as a careful script would."""
    pygame.mixer.init(RATE, FORMAT, CHANNELS, BUFFER_FRAMES, allowedchanges=0)
    sound = pygame.mixer.Sound(buffer=click_samples(Click.BEAT, -12.0, RATE).repeat(CHANNELS).tobytes())
    begun = time.perf_counter()

    def play() -> None:
        number = 1
        while (due := begun + number * 60 / float(bpm)) < begun + seconds:
            time.sleep(max(0.0, due - time.perf_counter()))
            sound.play()
            number += 1

    player = threading.Thread(target=play)
    player.start()
    while player.is_alive():
        frame()
    player.join()
    time.sleep(0.3)
    pygame.mixer.quit()


def heard(play: Play, bpm: Fraction, seconds: float, frame: Frame) -> NDArray[np.int64]:
    """Return the first frames of the clicks that the card has played, after 20 ms of silence each."""
    with tempfile.TemporaryDirectory() as folder:
        pipe, log, sound = (Path(folder) / name for name in ("pipe", "log", "sound"))
        os.mkfifo(pipe)
        os.environ["SDL_DISKAUDIOFILE"] = str(pipe)
        card = subprocess.Popen([sys.executable, str(CARD), str(pipe), str(log), str(sound)])
        try:
            play(bpm, seconds, frame)
            card.wait(10)
        finally:
            card.kill()
            card.wait()
        stream = np.fromfile(sound, dtype=np.int16).reshape(-1, 2)
    sounding = np.flatnonzero(stream.any(axis=1))
    firsts: NDArray[np.int64] = sounding[np.concatenate([[True], np.diff(sounding) > RATE // 50])]
    return firsts


def errors_ms(onsets: NDArray[np.int64], bpm: Fraction) -> NDArray[np.float64]:
    """Return how far each click is from the even row that exact arithmetic gives, in ms, a constant apart."""
    exact = [float(Fraction(RATE) * 60 / bpm * number) for number in range(len(onsets))]
    off = onsets - np.array(exact)
    return (off - np.median(off)) / RATE * 1000


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seconds", type=float, default=12.0, help="of each of the four")
    parser.add_argument("--bpm", type=Fraction, default=Fraction("97.3"))
    options = parser.parse_args(arguments)
    os.environ.update(SDL_AUDIODRIVER="disk", SDL_DISKAUDIODELAY="0", SDL_VIDEODRIVER="dummy")
    sys.setswitchinterval(loop.SWITCH_INTERVAL_S)
    print(f"{float(options.bpm):g} a minute, buffers of {BUFFER_FRAMES / RATE * 1000:.1f} ms")
    print(f"{'error of a click, ms':34} {'clicks':>6} {'spread':>8} {'p99':>8} {'longest':>8}")
    for words, frame in (("at rest", rest), ("main thread busy", busy)):
        spreads = []
        for name, play in (("ours", ours), ("a sound started on a timer", script)):
            off = errors_ms(heard(play, options.bpm, options.seconds, frame), options.bpm)
            spreads.append(float(off.std()))
            size = np.abs(off)
            print(
                f"{f'{name}, {words}':34} {len(off):6} {spreads[-1]:8.4f} {np.percentile(size, 99):8.4f} "
                f"{size.max():8.4f}"
            )
        print(f"{'spread of the timer to ours':34} {spreads[1] / spreads[0]:15.0f} times")
    print("ours is off by the rounding to whole frames alone: at most half of one, 0.0104 ms")


if __name__ == "__main__":
    main(sys.argv[1:])
