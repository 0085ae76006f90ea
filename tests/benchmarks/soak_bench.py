"""Run the drill for minutes and print how its frames came, what they cost, and how memory grew.

Run it with: python -m tests.benchmarks.soak_bench --minutes 10

The app's own window, loop, sound stream (into SDL's dummy driver unless SDL_AUDIODRIVER names another) and
journal, with a simulated player at the keys. A first run is timed; a second and shorter one is watched by
tracemalloc, which makes it slow, and says which memory the take itself needs: what the judge, the drill and
its layout keep of each stroke.
"""

from __future__ import annotations

import argparse
import gc
import resource
import sys
import tempfile
import tracemalloc
from pathlib import Path

import numpy as np
import pygame
from numpy.typing import NDArray

from tests.benchmarks.drill_window import (
    SETTLED_S,
    DrillWindow,
    a_drill,
    a_player,
    an_application,
    size_of,
)
from trainer.app.recording import Recorder
from trainer.app.scenes.drill import DrillController
from trainer.devices.clock import now_ns

FRAME_S = 1 / 60
PARTS = 10
OF_THE_TAKE = ("/judging/", "/practice/drill.py", "/music/layout.py", "/music/timeline.py")
OURS = ("/benchmarks/", "/tracemalloc.py")
MIB = 1 << 20
KIB = 1 << 10


def rss_bytes() -> int:
    """Return this process's resident memory; on systems without /proc the most it has had."""
    statm = Path("/proc/self/statm")
    if statm.exists():
        return int(statm.read_text().split()[1]) * resource.getpagesize()
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * KIB


class Memory:
    """Notes the resident memory once a second."""

    def __init__(self) -> None:
        self.at_s: list[float] = []
        self.bytes: list[int] = []

    def note(self) -> None:
        now_s = now_ns() / 1e9
        if not self.at_s or now_s - self.at_s[-1] >= 1.0:
            self.at_s.append(now_s)
            self.bytes.append(rss_bytes())


def timed(
    minutes: float, size: tuple[int, int], folder: Path, *, silent: bool
) -> tuple[DrillWindow, Memory, int, int]:
    """Run the drill; return the window, its memory, the taps taken in, and how often the sound stalled."""
    memory, seconds = Memory(), minutes * 60
    run = a_drill(seconds)
    app = an_application(recorder=Recorder.open(folder / "records.db")[0], silent=silent)
    try:
        window = DrillWindow(
            app, run, size=size, seconds=seconds, player=a_player(run), each_frame=memory.note
        )
        window.run()
        top = app.context.navigation.top
        taps = len(top.drill.taps) if isinstance(top, DrillController) else 0
        return window, memory, taps, app.context.playback.speaker.xruns
    finally:
        app.end()
        app.context.playback.speaker.close()
        gc.enable()
        gc.unfreeze()


def traced(minutes: float, size: tuple[int, int], folder: Path) -> dict[str, float]:
    """Run the drill under tracemalloc; return bytes a minute by file, from the second fifth of it on."""
    seconds = minutes * 60
    run = a_drill(seconds)
    app = an_application(recorder=Recorder.open(folder / "traced.db")[0])
    shots: list[tuple[float, tracemalloc.Snapshot]] = []

    def shoot() -> None:
        if not shots and window.shown_s[-1] - window.shown_s[0] > seconds / 5:
            shots.append((window.shown_s[-1], tracemalloc.take_snapshot()))

    window = DrillWindow(app, run, size=size, seconds=seconds, player=a_player(run), each_frame=shoot)
    tracemalloc.start()
    try:
        window.run()
        last = tracemalloc.take_snapshot()
    finally:
        tracemalloc.stop()
        app.end()
        app.context.playback.speaker.close()
        gc.enable()
        gc.unfreeze()
    begun_s, first = shots[0]
    lasted_min = (window.shown_s[-1] - begun_s) / 60
    found: dict[str, float] = {}
    for each in last.compare_to(first, "filename"):
        name = each.traceback[0].filename
        if not any(part in name for part in OURS):
            found[name] = found.get(name, 0.0) + each.size_diff / lasted_min
    return found


def ms(seconds: NDArray[np.float64]) -> str:
    middle, p99 = np.percentile(seconds, [50, 99]) * 1000
    return f"median {middle:.2f} ms, p99 {p99:.2f} ms, longest {seconds.max() * 1000:.1f} ms"


def print_frames(window: DrillWindow) -> None:
    shown = np.array(window.shown_s)
    settled = shown - shown[0] >= SETTLED_S
    apart = np.diff(shown[settled])
    late = apart > 3 * FRAME_S
    print(f"frames           {len(apart)}: {len(apart) / apart.sum():.2f} a second; {ms(apart)} apart")
    at = ", ".join(f"{second:.0f}" for second in (shown[settled][1:] - shown[0])[late][:10])
    print(f"later than two   {late.sum()}{f' (at second {at})' if at else ''}")
    print(f"a frame's cost   {ms(np.array(window.cost_s)[settled])}")
    work = np.array(window.thread_s)[settled]
    print(f"of that at work  {ms(work)}")
    tenths = [float(np.median(part)) * 1000 for part in np.array_split(work, PARTS)]
    print(f"median by tenth  {' '.join(f'{each:.2f}' for each in tenths)} ms of work")
    print(f"last / second    {tenths[-1] / tenths[1]:.2f}")


def print_memory(memory: Memory, by_file: dict[str, float]) -> None:
    at, held = np.array(memory.at_s), np.array(memory.bytes) / MIB
    later = at - at[0] >= min(60.0, (at[-1] - at[0]) / 5)
    slope = np.polyfit(at[later] / 60, held[later], 1)[0] if later.sum() > 2 else float("nan")
    half = at - at[0] >= (at[-1] - at[0]) / 2
    last = np.polyfit(at[half] / 60, held[half], 1)[0] if half.sum() > 2 else float("nan")
    take = sum(size for name, size in by_file.items() if any(part in name for part in OF_THE_TAKE)) / MIB
    rest = {name: size for name, size in by_file.items() if not any(part in name for part in OF_THE_TAKE)}
    print(
        f"resident memory  {held[0]:.1f} MiB at first, {held[later][0]:.1f} settled, "
        f"{held[-1]:.1f} at the end"
    )
    print(f"its growth       {slope:+.3f} MiB a minute, of which the take {take:.3f} (by tracemalloc)")
    print(f"in the last half {last:+.3f} MiB a minute")
    print(f"apart from it    {sum(rest.values()) / KIB:+.1f} KiB a minute by tracemalloc; the most in:")
    for name, size in sorted(rest.items(), key=lambda each: -abs(each[1]))[:6]:
        print(f"                 {size / KIB:+9.1f} {'/'.join(Path(name).parts[-3:])}")


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--traced", type=float, help="minutes under tracemalloc (default: a quarter)")
    parser.add_argument("--size", default="1920x1080")
    parser.add_argument("--silent", action="store_true", help="without a sound device")
    options = parser.parse_args(arguments)
    size = size_of(options.size)
    with tempfile.TemporaryDirectory() as folder:
        window, memory, taps, stalls = timed(options.minutes, size, Path(folder), silent=options.silent)
        driver = pygame.display.get_driver()
        by_file = traced(options.traced or options.minutes / 4, size, Path(folder))
    pygame.quit()
    print(
        f"{options.size}, {driver} display, {options.minutes:g} minutes, {taps} taps, sound stalled {stalls}"
    )
    print_frames(window)
    print_memory(memory, by_file)


if __name__ == "__main__":
    main(sys.argv[1:])
