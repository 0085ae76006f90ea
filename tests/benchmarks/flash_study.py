"""Watch a minute of the drill at 240 bpm for flashes, frame by frame at sixty a second.

Usage: python -m tests.benchmarks.flash_study [SECONDS]. Needs pygame, no display. The definition, and how
areas are counted: tests/screen/flashes.py. At most three flashes in any second are allowed; ``area`` is the
largest share of any 341 by 256 pixels that ever changed one way within a thirtieth of a second (the limit is
a quarter).
"""

from __future__ import annotations

import os
import sys

os.environ["SDL_VIDEODRIVER"] = "dummy"

import pygame

from tests.screen.flashes import FlashMeter
from tests.screen.moving import FPS, drill_frames
from trainer.screen.theme import ThemeName


def main(seconds: float) -> None:
    """Print a row for each theme."""
    pygame.display.init()
    print(f"{'theme':<12}{'bpm':>5}{'seconds':>9}{'general':>9}{'red':>6}{'area':>8}")
    for theme in ThemeName:
        for bpm in (240, 120):
            meter = FlashMeter(FPS)
            for frame in drill_frames(bpm, seconds, theme):
                meter.see(frame)
            found = meter.result()
            print(f"{theme.value:<12}{bpm:>5}{seconds:>9g}{found.general:>9}{found.red:>6}{found.area:>8.3f}")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
