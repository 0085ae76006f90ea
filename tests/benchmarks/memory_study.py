"""Let a drill run for an hour by a clock of its own and print how the memory grows, the take's share apart.

Run it with: xvfb-run -s "-screen 0 1920x1080x24" python -m tests.benchmarks.memory_study --minutes 60

The app's own application, judge, journal, view and painter, with a simulated player; time goes on as fast as
the pictures are painted, so an hour takes some minutes at few frames a second. The sound stream hangs on real
time and is not in it: soak_bench has it. "In use" is what the C library has given out (glibc only).
"""

from __future__ import annotations

import argparse
import ctypes
import gc
import sys
import tempfile
from pathlib import Path

import numpy as np
import pygame

from tests.benchmarks.drill_window import KEYS, a_drill, a_player, an_application, size_of
from tests.benchmarks.soak_bench import MIB, rss_bytes
from trainer.app import loop
from trainer.app.recording import Recorder
from trainer.app.scene_table import start_drill
from trainer.app.scenes.drill import DrillController
from trainer.music.strokes import Hand
from trainer.opening import Opening

MINUTE_NS = 60_000_000_000
SETTLED_MIN = 10.0  # until then the painter's small pictures are made


class _Heap(ctypes.Structure):
    """What mallinfo2 fills: ten numbers, of which the eighth is the bytes given out."""

    _fields_ = [(f"number_{at}", ctypes.c_size_t) for at in range(10)]


def in_use_mib() -> float:
    """Return what the C library has given out, in MiB; NaN where it does not say."""
    try:
        library = ctypes.CDLL("libc.so.6")
        library.mallinfo2.restype = _Heap
        return float(library.mallinfo2().number_7) / MIB
    except (OSError, AttributeError):
        return float("nan")


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--fps", type=float, default=5.0)
    parser.add_argument("--size", default="1920x1080")
    parser.add_argument("--undrawn", action="store_true", help="without view and painter: the take alone")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        app = an_application(silent=True, recorder=Recorder.open(Path(folder) / "records.db")[0])
        request = a_drill(options.minutes * 60)
        player, played = a_player(request), 0
        window = loop.WindowLoop(app, Opening(), None)
        window._surface = pygame.display.set_mode(size_of(options.size))
        window._painter.resize(window._surface)
        now, step = MINUTE_NS, round(1e9 / options.fps)
        end = now + round(options.minutes * MINUTE_NS)
        app.tick(now)
        start_drill(app.context, now, request)
        gc.collect()
        gc.freeze()
        gc.disable()
        every = max(MINUTE_NS, (end - now) // 20)
        next_row, begun, rows = now + every, now, list[tuple[float, float]]()
        print("minute  resident  in use  Python blocks")
        while now < end:
            now += step
            app.tick(now)
            song_s = app.context.playback.song_s
            while played < len(player) and player[played].song_s <= song_s:
                tap = player[played]
                at = now - round((song_s - tap.song_s) * 1e9)
                key = KEYS[tap.hand or Hand.NAIL]
                app.key_down(key, host_ns=at, looked_ns=at - 1_000_000)
                app.context.inputs.keys.up(key)
                played += 1
            if not options.undrawn:
                window._painter.paint(window._scene_now())
                window._painter.flip()
            pygame.event.get()
            if now >= next_row:
                next_row += every
                minute = (now - begun) / MINUTE_NS
                rows.append((minute, rss_bytes() / MIB))
                print(
                    f"{minute:6.0f}  {rows[-1][1]:8.2f}  {in_use_mib():6.2f}  {sys.getallocatedblocks()}",
                    flush=True,
                )
        top = app.context.navigation.top
        taps = len(top.drill.taps) if isinstance(top, DrillController) else 0
        app.end()
    settled = np.array([row for row in rows if row[0] >= min(SETTLED_MIN, options.minutes / 3)])
    print(f"{taps} taps; {np.polyfit(settled[:, 0], settled[:, 1], 1)[0]:+.3f} MiB a minute once settled")
    pygame.quit()


if __name__ == "__main__":
    main(sys.argv[1:])
