"""Time the drill's frames against a bare full-screen blit and flip.

Run it with: python -m tests.benchmarks.screen_bench

Opens a window on the display at hand (with ``SDL_VIDEODRIVER=dummy`` too, but then a flip costs nothing).
Every frame is timed in the same run as the bare ones, turn about, so that other load on the machine meets
all. A bare frame is timed twice over: in a window as SDL opens it, and in one as the app does, whose surface
is copied to the screen without a detour (display.show_plainly).
"""

import argparse
import os
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pygame

from trainer.app.display import show_plainly
from trainer.judging.take import Tap
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.records.library import load_library
from trainer.screen.draw import Scene
from trainer.screen.painter import Painter
from trainer.screen.scenes.drill import DrillView
from trainer.screen.window import Window

FONTS = Path(__file__).parents[2] / "assets" / "fonts"
FRAME_S = 1 / 60
PASSES = 64
ROUNDS = 6
RESET_S = 0.5  # a virtual X server starts anew when its last client has gone, and refuses others meanwhile
HINT = "SDL_FRAMEBUFFER_ACCELERATION"
BARE_DEFAULT = "bare blit and flip, by default"
BARE_PLAIN = "bare blit and flip, copied plainly"


class Player:
    """A drill with a simulated player's taps, moved on by a made-up clock."""

    def __init__(self, pattern: Pattern, bpm: Fraction, size: tuple[int, int]) -> None:
        self.pattern = pattern
        self.window = Window(width=size[0], height=size[1])
        self.drill = Drill(DrillSettings(pattern=pattern, bpm=bpm, passes=PASSES))
        targets = lay_out(pattern, Timeline.steady(bpm), passes=PASSES)
        faults = Faults(jitter_s=0.02, rush_gap_s=0.05, touch_skips=0.2, miss=0.05)
        self.coming = list(simulate(targets, faults, np.random.default_rng(1)).taps)
        self.now_s = self.drill.start_s

    def next_view(self) -> DrillView:
        self.now_s += FRAME_S
        while self.coming and self.coming[0].song_s <= self.now_s:
            self.drill.tap(self.coming.pop(0))
        moment = self.drill.advance(self.now_s)
        recent: tuple[Tap, ...] = tuple(t for t in self.drill.taps if t.song_s > self.now_s - 6)
        return DrillView(
            window=self.window,
            pattern=self.pattern,
            targets=self.drill.targets,
            timeline=self.drill.timeline,
            outcomes=(*self.drill.outcomes[-60:], *moment.view.provisional),
            strays=self.drill.strays,
            taps=recent,
            song_s=self.now_s,
            bpm=moment.bpm,
            pass_index=moment.pass_index,
            passes=PASSES,
            count=moment.count,
            count_in_beats=self.drill.count_in_beats,
            input_name="Computer keys",
            uncertainty_s=0.008,
            sound="sound on",
        )


def over_chords(pattern: Pattern) -> Pattern:
    """Lay a figure over 32 bars of changing chords, with a fret on each stroke that can have one."""
    bars = tuple(
        tuple(
            replace(stroke, fret=(number + slot) % 5) if stroke.kind.takes_fret else stroke
            for slot, stroke in enumerate(pattern.bars[number % len(pattern.bars)])
        )
        for number in range(32)
    )
    beats = pattern.meter.beats
    spans = tuple(ChordSpan(chord=Chord(degree=(1, 4, 1, 5)[at % 4]), beats=2 * beats) for at in range(16))
    return replace(pattern, bars=bars, chart=Chart(key="A", spans=spans))


def timed(deed: Callable[[], object]) -> float:
    begun = time.perf_counter()
    deed()
    return (time.perf_counter() - begun) * 1000


def longest_slice(painter: Painter, player: Player) -> float:
    """Paint a frame slice by slice and return the longest wait between two turns, in ms."""
    longest, before = 0.0, time.perf_counter()
    scene = player.next_view().scene()
    for _slice in painter.paint_slices(scene):
        now = time.perf_counter()
        longest, before = max(longest, now - before), now
    longest = max(longest, time.perf_counter() - before)
    painter.flip()
    return longest * 1000


def new_window(size: tuple[int, int], *, plain: bool) -> pygame.Surface:
    """Open a window anew, shown as SDL does by default or as the app has it."""
    pygame.display.quit()
    time.sleep(RESET_S)
    os.environ.pop(HINT, None)
    pygame.display.init()
    if plain:
        show_plainly()
    return pygame.display.set_mode(size)


def bare_frames(times: dict[str, list[float]], name: str, surface: pygame.Surface, frames: int) -> None:
    still = surface.copy()

    def bare() -> None:
        surface.blit(still, (0, 0))
        pygame.display.flip()

    for _frame in range(frames):
        pygame.event.pump()
        times.setdefault(name, []).append(timed(bare))


def drill_frames(
    times: dict[str, list[float]], painter: Painter, player: Player, surface: pygame.Surface, frames: int
) -> None:
    for at in range(frames):
        pygame.event.pump()
        bare_frames(times, BARE_PLAIN, surface, 1)
        # The bare blit has overwritten the window; the sheet is painted anew anyway.
        view = player.next_view()
        scenes: list[Scene] = []
        build = timed(lambda view=view, scenes=scenes: scenes.append(view.scene()))  # type: ignore[misc]
        paint = timed(lambda scenes=scenes: painter.paint(scenes[0]))  # type: ignore[misc]
        flip = timed(painter.flip)
        times.setdefault("drill: build the scene", []).append(build)
        times.setdefault("drill: paint", []).append(paint)
        times.setdefault("drill: update the window", []).append(flip)
        times.setdefault("drill: whole frame", []).append(build + paint + flip)
        if at % 10 == 0:
            times.setdefault("drill: longest slice", []).append(longest_slice(painter, player))


def row(name: str, values: list[float]) -> str:
    ordered = sorted(values)
    median, p99 = ordered[len(ordered) // 2], ordered[int(0.99 * len(ordered))]
    return f"{name:34} {median:8.2f} {p99:8.2f} {ordered[-1]:8.2f}"


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--size", default="1920x1080")
    parser.add_argument("--frames", type=int, default=600)
    parser.add_argument("--pattern", default="one-basic-one-skip")
    parser.add_argument("--chart", action="store_true", help="a break of 32 bars with chords and frets")
    parser.add_argument("--bpm", type=int, default=100)
    options = parser.parse_args(arguments)
    width, height = (int(side) for side in options.size.split("x"))
    pattern = load_library().find(options.pattern).pattern
    if options.chart:
        pattern = over_chords(pattern)
    player = Player(pattern, Fraction(options.bpm), (width, height))
    times: dict[str, list[float]] = {}
    painter: Painter | None = None
    for _round in range(ROUNDS):
        bare_frames(times, BARE_DEFAULT, new_window((width, height), plain=False), options.frames // ROUNDS)
        surface = new_window((width, height), plain=True)
        first = time.perf_counter()
        if painter is None:
            painter = Painter(surface, FONTS)
        painter.resize(surface)
        painter.paint(player.next_view().scene())
        painter.flip()
        times.setdefault("drill: first frame", []).append((time.perf_counter() - first) * 1000)
        drill_frames(times, painter, player, surface, options.frames // ROUNDS)
    print(
        f"{options.size}, {pygame.display.get_driver()} display, {options.frames} frames, {options.pattern}"
    )
    print(f"{'ms':34} {'median':>8} {'p99':>8} {'longest':>8}")
    for name, values in times.items():
        print(row(name, values))
    for share, words in ((0.5, "median"), (0.99, "p99")):
        at = {name: sorted(values)[int(share * len(values))] for name, values in times.items()}
        default, plain = (at["drill: whole frame"] / at[name] for name in (BARE_DEFAULT, BARE_PLAIN))
        print(f"a drill's frame is {default:.2f} bare ones by default, {plain:.2f} copied plainly ({words})")


if __name__ == "__main__":
    main(sys.argv[1:])
